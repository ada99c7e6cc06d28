"""Forms with photos and without, taken in under limits that hold while they arrive."""

from collections.abc import AsyncGenerator, Mapping
from dataclasses import dataclass
from typing import Final
from urllib.parse import parse_qsl

from starlette.datastructures import Headers, UploadFile
from starlette.formparsers import MultiPartException, MultiPartParser
from starlette.requests import Request

from service.asked import FILE_FIELDS, PAGE_FIELDS, TEXT_FIELDS, make_wish, read_texts
from service.errors import BadInput, StavesightError, TooLarge
from service.language import say
from service.reading import Wish
from service.settings import Settings
from service.upload import Upload

_TEXT_NAMES: Final = frozenset(text.name for text in (*TEXT_FIELDS, *PAGE_FIELDS))
_FILE_NAMES: Final = frozenset(file.name for file in FILE_FIELDS)
_MIB: Final = 1024 * 1024
_FORM_BYTES: Final = 128 * 1024  # of a form without photos; the longest takes a tenth of it
_MOST_TEXTS: Final = 200

Items = list[tuple[str, UploadFile | str]]


@dataclass(frozen=True)
class Received:
    """A form that has arrived: its texts, and its photos still in the temporary spool."""

    typed: Mapping[str, str]
    files: dict[str, list[UploadFile]]

    async def wish(self) -> Wish:
        """Load the photos from the spool and put together what is asked."""
        photos = {
            name: [Upload(upload.filename or name, await upload.read()) for upload in uploads]
            for name, uploads in self.files.items()
        }
        return make_wish(self.typed, photos)

    def close(self) -> None:
        """Forget the photos."""
        for uploads in self.files.values():
            for upload in uploads:
                upload.file.close()


async def receive(request: Request, settings: Settings) -> Received:
    """Take in a form; what was typed is kept in `request.state.typed`, also when the form is refused.

    Raises
    ------
    BadInput
        It is no form with files, has a field that is not known, or a text that cannot be used.
    TooLarge
        A photo, or all of them, hold more bytes than the settings allow, or there are too many.
    """
    request.state.typed = {}
    stream = request.stream()
    try:
        items = await _parse(request, stream, settings)
    except TooLarge:
        await _drain(stream, settings.request_bytes)
        raise
    except MultiPartException as error:
        raise BadInput(say("The form did not arrive whole, or has too many fields. Send it once more.")) from error
    received = Received(request.state.typed, {})
    try:
        _sort(items, settings, received)
        read_texts(received.typed)  # before the photos wait for their turn
    except StavesightError:
        for _, value in items:
            if isinstance(value, UploadFile):
                value.file.close()
        raise
    return received


@dataclass(frozen=True)
class OnePhoto:
    """A photo that arrived by itself, still in the spool, with what came beside it.

    Attributes
    ----------
    around, layout
        Of a photo of which only the board's stretch was sent: its surroundings made small, and where the stretch was
        cut. None and empty when it was sent whole.
    """

    file: UploadFile
    key: str
    instead: str
    around: UploadFile | None = None
    layout: str = ""

    def close(self) -> None:
        """Forget the photo."""
        self.file.file.close()
        if self.around is not None:
            self.around.file.close()


async def receive_photo(request: Request, settings: Settings) -> OnePhoto:
    """Take in one photo and its key.

    Raises
    ------
    BadInput
        It is no form with files, or holds no photo or several.
    TooLarge
        The photo holds more bytes than the settings allow.
    """
    stream = request.stream()
    request.state.typed = {}
    try:
        items = await _parse(request, stream, settings)
    except TooLarge:
        await _drain(stream, settings.request_bytes)
        raise
    except MultiPartException as error:
        raise BadInput(say("The photo did not arrive whole. Send it once more."), "photo") from error
    files = [(name, value) for name, value in items if isinstance(value, UploadFile)]
    given = [file for name, file in files if (file.filename or file.size) and name != "around"]
    around = next((file for name, file in files if name == "around"), None)
    for _, file in files:
        if len(given) != 1 or (file is not given[0] and file is not around):
            file.file.close()
    if len(given) != 1:
        none = say("No photo was chosen. Take one, or choose one, then send it.")
        raise BadInput(say("Send one photo at a time.") if given else none, "photo")
    texts = {name: value for name, value in items if isinstance(value, str)}
    return OnePhoto(given[0], texts.get("key", ""), texts.get("instead", ""), around, texts.get("layout", ""))


async def read_bytes(request: Request, most_bytes: int) -> bytes | None:
    """Take in a request's bytes; one that is too large is read on, up to the same size again, and is None."""
    kept, seen_bytes = bytearray(), 0
    async for chunk in request.stream():
        seen_bytes += len(chunk)
        if seen_bytes <= most_bytes:
            kept += chunk
        elif seen_bytes > 2 * most_bytes:
            break
    return bytes(kept) if seen_bytes <= most_bytes else None


async def receive_texts(request: Request) -> dict[str, str]:
    """Take in a form without files; of a text given twice the last one counts.

    Raises
    ------
    BadInput
        It is no such form.
    TooLarge
        It holds more than any page asks for.
    """
    body = await read_bytes(request, _FORM_BYTES)
    if body is None:
        raise TooLarge(say("These texts are too long to be kept. Shorten them."))
    try:
        pairs = parse_qsl(body.decode(), keep_blank_values=True, max_num_fields=_MOST_TEXTS, errors="strict")
    except ValueError as error:
        raise BadInput(say("The form did not arrive whole. Send it once more.")) from error
    return dict(pairs)


async def _parse(request: Request, stream: AsyncGenerator[bytes, None], settings: Settings) -> Items:
    if not request.headers.get("content-type", "").lower().startswith("multipart/form-data"):
        raise BadInput(say("Send the sizes and photos as a form with files (multipart/form-data)."))
    length = request.headers.get("content-length", "")
    if length.isdecimal() and int(length) > settings.request_bytes:
        raise _request_too_large(settings)
    parser = _PhotoParser(
        request.headers,
        _counted(stream, settings),
        # A file field left empty on the page counts as a file too, hence the room for one of each.
        max_files=settings.files + len(FILE_FIELDS),
        max_fields=len(_TEXT_NAMES),
        photo_bytes=settings.photo_bytes,
    )
    try:
        return (await parser.parse()).multi_items()
    finally:
        request.state.typed.update(
            (name, value) for name, value in parser.items if name in _TEXT_NAMES and isinstance(value, str)
        )


async def _counted(stream: AsyncGenerator[bytes, None], settings: Settings) -> AsyncGenerator[bytes, None]:
    """Pass the request on, and stop it once it is longer than allowed whatever its header said."""
    seen_bytes = 0
    async for chunk in stream:
        seen_bytes += len(chunk)
        if seen_bytes > settings.request_bytes:
            raise _request_too_large(settings)
        yield chunk


async def _drain(stream: AsyncGenerator[bytes, None], most_bytes: int) -> None:
    """Read on without keeping anything: a browser shows the answer only when all it sends is taken."""
    async for chunk in stream:
        most_bytes -= len(chunk)
        if most_bytes < 0:
            return


def _request_too_large(settings: Settings) -> TooLarge:
    most = f"{settings.request_bytes / _MIB:.3g}"
    return TooLarge(
        say("The photos hold more than {megabytes} MB together. Send fewer, or smaller ones.", megabytes=most)
    )


class _PhotoParser(MultiPartParser):
    """The form parser with a limit on each file's bytes."""

    def __init__(
        self,
        headers: Headers,
        stream: AsyncGenerator[bytes, None],
        *,
        max_files: int,
        max_fields: int,
        photo_bytes: int,
    ) -> None:
        super().__init__(headers, stream, max_files=max_files, max_fields=max_fields)
        self._photo_bytes = photo_bytes
        self._seen_bytes = 0

    def on_part_begin(self) -> None:
        self._seen_bytes = 0
        super().on_part_begin()

    def on_part_data(self, data: bytes, start: int, end: int) -> None:
        self._seen_bytes += end - start
        if self._seen_bytes > self._photo_bytes:
            most = f"{self._photo_bytes / _MIB:.3g}"
            raise TooLarge(
                say("A photo holds more than {megabytes} MB. Send it in a smaller size.", megabytes=most),
                self._current_part.field_name,
            )
        super().on_part_data(data, start, end)


def _sort(items: Items, settings: Settings, received: Received) -> None:
    """Put the photos to their fields and refuse what is not known."""
    for name, value in items:
        if isinstance(value, UploadFile):
            if name not in _FILE_NAMES:
                known = ", ".join(sorted(_FILE_NAMES))
                raise BadInput(
                    say("There is no photo field “{name}”. There are: {known}.", name=name[:40], known=known)
                )
            if value.filename or value.size:
                received.files.setdefault(name, []).append(value)
            else:
                value.file.close()  # a file field left empty
        elif name in _FILE_NAMES:
            raise BadInput(say("{name} is no file. Send it as a photo file.", name=name), name)
        elif name not in _TEXT_NAMES:
            known = ", ".join(sorted(_TEXT_NAMES))
            raise BadInput(say("There is no field “{name}”. There are: {known}.", name=name[:40], known=known))
        elif received.typed[name] != value:
            raise BadInput(say("{name} was given twice, with different values. Give it once.", name=name), name)
    if sum(map(len, received.files.values())) > settings.files:
        raise TooLarge(say("More than {count} photos were given. Send fewer.", count=settings.files))
