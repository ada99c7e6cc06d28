"""What can go wrong with what the user gave, one sentence each.

StavesightError
    BadInput       sizes, units, missing sides, limits        -> HTTP 422, exit status 2
    BadPhoto       bytes that are no readable photo           -> HTTP 422, exit status 2
    TooLarge       more bytes or pixels than are accepted     -> HTTP 413, exit status 2
    SendWhole      a cut-out stretch that was not enough      -> HTTP 409
    Busy           all readers, or the database, are taken    -> HTTP 503
    NotThere       a board, photo or share that is not this device's     -> HTTP 404, exit status 2
    CannotStore    no room, a folder or database that cannot be used     -> HTTP 507, exit status 2
    Unfinished     the reader stopped or took too long        -> HTTP 500, exit status 1

A photo that can be opened but not read (no board, blurred, dark) is no error: it is a
`Problem` in the answer, because the other sides are still worth reading.
"""

from dataclasses import dataclass

from service.language import say


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
    code = "refused"

    def __init__(self, text: str, field: str | None = None) -> None:
        super().__init__(text)
        self.text = text
        self.field = field


class BadInput(StavesightError):
    """A size, unit, side or limit that cannot be used."""

    code = "bad_input"


class BadPhoto(StavesightError):
    """Bytes that cannot be opened as a photo."""

    code = "bad_photo"


class TooLarge(StavesightError):
    """More bytes or pixels than are accepted."""

    status = 413
    code = "too_large"


class SendWhole(StavesightError):
    """The board was not surely found in the stretch of a photo that a script sent: the whole photo is wanted."""

    status = 409
    code = "send_whole"


class Busy(StavesightError):
    """All readers, or the database, are taken; try again shortly."""

    status = 503
    code = "busy"


class NotThere(StavesightError):
    """A board, photo, reading or share that does not exist, or not for the device that asks."""

    status = 404
    code = "not_there"


class CannotStore(StavesightError):
    """A full disk, or a folder or database that cannot be used: nothing was kept."""

    status = 507
    code = "cannot_store"


class Unfinished(StavesightError):
    """The reader stopped or took too long: a fault of the program, not of what was given."""

    status = 500
    code = "unfinished"


@dataclass(frozen=True)
class Problem:
    """Why something could not be read, as a value: a short code and a sentence for the user."""

    code: str
    text: str

    def said(self) -> "Problem":
        """Say the text of a constant, which is only marked for the catalogue, in the language in use.

        >>> Problem("too_dark", "The photo is too dark.").said().text
        'The photo is too dark.'
        """
        return Problem(self.code, say(self.text))
