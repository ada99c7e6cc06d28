"""Contents as files, each whole or not there at all."""

import contextlib
import errno
import logging
import os
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Final

from service.errors import BadInput, CannotStore
from service.language import say

_log = logging.getLogger(__name__)

#: Ending of a file that is being written.
PART: Final = ".part"

_OURS: Final = re.compile(r"([0-9a-f]{32})(\.part)?")
_NO_ROOM: Final = (errno.ENOSPC, errno.EDQUOT)


def make_folder(folder: Path) -> None:
    """Make a folder that only its owner may look into; one that exists keeps its rights.

    Raises
    ------
    BadInput
        It cannot be made, or is no folder that can be written to.
    """
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        text = say(
            "The folder {folder} for kept boards cannot be made: {why}. Choose another with STAVESIGHT_DATA.",
            folder=folder,
            why=error.strerror,
        )
        raise BadInput(text) from error
    if not os.access(folder, os.R_OK | os.W_OK | os.X_OK):
        raise BadInput(
            say(
                "The folder {folder} for kept boards cannot be written to. Choose another with STAVESIGHT_DATA.",
                folder=folder,
            )
        )


@dataclass(frozen=True)
class Files:
    """Files named for random ids, spread over folders by the first two letters."""

    folder: Path

    def path(self, file_id: str) -> Path:
        """Return where the content of an id lies.

        >>> Files(Path("kept")).path("0123456789abcdef0123456789abcdef").as_posix()
        'kept/01/0123456789abcdef0123456789abcdef'
        """
        if not re.fullmatch(r"[0-9a-f]{32}", file_id):
            raise ValueError("an id is 32 hexadecimal letters")
        return self.folder / file_id[:2] / file_id

    def write(self, file_id: str, data: bytes) -> None:
        """Write a content: under another name first, renamed when all of it is on the disk.

        Raises
        ------
        CannotStore
            No room, or the folder cannot be written to; nothing is left behind.
        """
        path = self.path(file_id)
        part = path.with_name(path.name + PART)
        try:
            path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            part.replace(path)
            _sync_folder(path.parent)
        except OSError as error:
            for left in (part, path):
                with contextlib.suppress(OSError):
                    left.unlink(missing_ok=True)
            raise CannotStore(_reason(error)) from error

    def read(self, file_id: str) -> bytes | None:
        """Return a content; None when there is none."""
        try:
            return self.path(file_id).read_bytes()
        except FileNotFoundError:
            return None
        except OSError as error:
            raise CannotStore(_reason(error)) from error

    def open(self, file_id: str) -> BinaryIO | None:
        """Open a content to read it piece by piece; None when there is none."""
        try:
            return self.path(file_id).open("rb")
        except FileNotFoundError:
            return None
        except OSError as error:
            raise CannotStore(_reason(error)) from error

    def is_there(self, file_id: str) -> bool:
        """Tell whether there is a content."""
        return self.path(file_id).is_file()

    def remove(self, file_ids: Iterable[str]) -> None:
        """Remove contents; one that is gone already is fine.

        Raises
        ------
        CannotStore
            Some could not be removed. The others are, and the next sweep tries again.
        """
        left = [file_id for file_id in file_ids if not self._removed(self.path(file_id))]
        if left:
            raise CannotStore(
                say(
                    "It is deleted, but {count} of its files could not be removed yet. Whoever runs the program: look "
                    "at the rights of the data folder; the next sweep tries again.",
                    count=len(left),
                )
            )

    def discard(self, file_ids: Iterable[str]) -> None:
        """Remove contents that no row knows; what cannot be removed is left to the sweep."""
        for file_id in file_ids:
            self._removed(self.path(file_id))

    def older_than(self, moment_s: float) -> Iterator[tuple[str, Path]]:
        """Yield the id and path of every file last written before a moment, half-written ones too."""
        for path in self.folder.glob("??/*"):
            name = _OURS.fullmatch(path.name)
            with contextlib.suppress(FileNotFoundError):  # removed by another just now
                if name is not None and path.stat().st_mtime < moment_s:
                    yield name[1], path

    def sweep(self, path: Path) -> bool:
        """Remove one file found by `older_than`, and tell whether it is gone."""
        return self._removed(path)

    @staticmethod
    def _removed(path: Path) -> bool:
        try:
            path.unlink(missing_ok=True)
        except OSError as error:
            _log.warning("%s cannot be removed: %s", path, error.strerror)
            return False
        return True


def _sync_folder(folder: Path) -> None:
    """Put a new name on the disk too, where the system can."""
    with contextlib.suppress(PermissionError):  # Windows opens no folders
        opened = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(opened)
        finally:
            os.close(opened)


def _reason(error: OSError) -> str:
    if error.errno in _NO_ROOM:
        return say(
            "There is no room left on the disk of the kept boards; nothing was kept. Delete boards that are not "
            "needed, or make room on the disk, and send it again."
        )
    return say(
        "The folder of the kept boards cannot be used ({why}); nothing was kept. Whoever runs the program: look at its "
        "rights, or choose another with STAVESIGHT_DATA.",
        why=error.strerror,
    )
