"""Text for a terminal."""

import shutil
import sys
import textwrap
from collections.abc import Sequence
from functools import partial
from typing import Final

_WIDEST: Final = 100  # columns; longer lines are hard to read


def wrapped(sentences: Sequence[str]) -> str:
    """Write each sentence as a paragraph no wider than the terminal, its further lines set in.

    >>> print(wrapped(["One.", "Two."]))
    One.
    Two.
    """
    width = min(shutil.get_terminal_size((_WIDEST, 24)).columns, _WIDEST)
    fill = partial(textwrap.fill, width=width, subsequent_indent="  ", break_on_hyphens=False)
    return "\n".join(map(fill, sentences))


def tell(step: str) -> None:
    """Tell on standard error what is being done, in one piece: two sides may report at once."""
    sys.stderr.write(f"{step}\n")
    sys.stderr.flush()
