"""The whole line: photos in, answer out."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from service.board.record import Answer
from service.sides import BoardSize


@dataclass(frozen=True)
class Upload:
    """One photo as it came: its name, its bytes and, when given by hand, the side's corners in it.

    `corners` are (column, row) pixels of the upright photo: marked end upper, far end upper, far
    end lower, marked end lower.
    """

    name: str
    data: bytes
    corners: tuple[tuple[float, float], ...] | None = None


@dataclass(frozen=True)
class Wish:
    """All that the user gives.

    Attributes
    ----------
    size, bow_length_mm
        The board and the bow.
    photos
        Side name to its photos, in order from the marked end. Sides may be left out.
    closeups
        Side name to its close-ups.
    end
        The marked end photographed head on, face 1 up.
    nominal, species
        As the user named them.
    """

    size: BoardSize
    bow_length_mm: float
    photos: Mapping[str, tuple[Upload, ...]]
    closeups: Mapping[str, tuple[Upload, ...]] = field(default_factory=dict)
    end: Upload | None = None
    nominal: str | None = None
    species: str | None = None


@dataclass(frozen=True)
class Outcome:
    """The answer, and for each side that was read its marked picture as an SVG document."""

    answer: Answer
    pictures: Mapping[str, str]


def read_board(wish: Wish, progress: Callable[[str], None] = lambda _: None) -> Outcome:
    """Read a board from its photos and judge it; under construction."""
    raise NotImplementedError
