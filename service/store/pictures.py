"""The marked pictures of a board's sides as files."""

from collections.abc import Mapping
from pathlib import Path

from service.errors import BadInput
from service.language import say


def save_pictures(folder: Path, pictures: Mapping[str, str]) -> list[Path]:
    """Write each side's picture as an SVG file named for the side, and return the files.

    Raises
    ------
    BadInput
        The folder cannot be made or written to.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        files = [folder / f"{side}.svg" for side in pictures]
        for file, picture in zip(files, pictures.values(), strict=True):
            file.write_text(picture, encoding="utf-8")
    except OSError as error:
        text = say("The pictures cannot be written to {folder}: {why}.", folder=folder, why=error.strerror)
        raise BadInput(text, "pictures") from error
    return files
