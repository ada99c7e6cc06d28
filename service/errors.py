"""What can go wrong with what the user gave, one sentence each.

StavesightError
    BadInput       sizes, units, missing sides, limits        -> HTTP 422, exit status 2
    BadPhoto       bytes that are no readable photo           -> HTTP 422, exit status 2
    TooLarge       more bytes or pixels than are accepted     -> HTTP 413, exit status 2
    Busy           all readers are taken                      -> HTTP 503

A photo that can be opened but not read (no board, blurred, dark) is no error: it is a
`Problem` in the answer, because the other sides are still worth reading.
"""

from dataclasses import dataclass


class StavesightError(Exception):
    """A refusal with one sentence that says what to do next.

    Parameters
    ----------
    text
        The sentence for the user. It names the offending value and the way out.
    field
        The form field, API field or option it belongs to, when there is one.
    """

    status = 422

    def __init__(self, text: str, field: str | None = None) -> None:
        super().__init__(text)
        self.text = text
        self.field = field


class BadInput(StavesightError):
    """A size, unit, side or limit that cannot be used."""


class BadPhoto(StavesightError):
    """Bytes that cannot be opened as a photo."""


class TooLarge(StavesightError):
    """More bytes or pixels than are accepted."""

    status = 413


class Busy(StavesightError):
    """All readers are taken; try again shortly."""

    status = 503


@dataclass(frozen=True)
class Problem:
    """Why something could not be read, as a value: a short code and a sentence for the user."""

    code: str
    text: str
