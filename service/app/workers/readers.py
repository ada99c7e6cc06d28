"""Worker processes that read boards or check photos: a fixed number, a bounded queue before them, a time limit.

Each worker is a process of its own with a pipe, so one that hangs, dies or is no longer wanted can be
ended and replaced without touching the others.
"""

import asyncio
import logging
import multiprocessing
import signal
import threading
import time
import traceback
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextvars import copy_context
from functools import partial
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any, Final, Generic, Protocol, TypeVar

from service.errors import Busy, StavesightError, Unfinished
from service.language import say
from service.reading import Outcome, Wish

Progress = Callable[[str], None]
Read = Callable[[Wish, Progress], Outcome]

W = TypeVar("W")
Got = TypeVar("Got")
W_co = TypeVar("W_co", covariant=True)

_log = logging.getLogger(__name__)

_LOOK_SECONDS: Final = 0.2  # how often to look whether the outcome is still wanted

# A fresh interpreter on every system, free of the web server's threads and open sockets.
_SPAWN: Final = multiprocessing.get_context("spawn")


def _work(link: Connection, read: Callable[[Any, Progress], Any]) -> None:
    """Read boards, or check photos, as they come over the pipe until it closes; runs in the worker process."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the web server ends its workers itself
    sending = threading.Lock()

    def tell(kind: str, content: object) -> None:
        with sending:  # a reading may tell its steps from several threads, and a pipe takes one at a time
            link.send((kind, content))

    while True:
        try:
            wish = link.recv()
        except EOFError:
            return
        try:
            tell("done", read(wish, lambda step: tell("step", step)))
        except StavesightError as refusal:
            tell("refused", refusal)
        except Exception as error:  # whatever went wrong, the next board must be read
            tell("failed", _where(error))


def _where(error: Exception) -> str:
    """Name a fault by its kind and place; its message could hold a file name."""
    last = traceback.extract_tb(error.__traceback__)[-1]
    return f"{type(error).__name__} in {Path(last.filename).name}, line {last.lineno}"


class _Reader(Generic[W, Got]):
    """One worker process, started when first needed and anew after it was lost."""

    def __init__(self, read: Callable[[W, Progress], Got]) -> None:
        self._read = read
        self._process: multiprocessing.process.BaseProcess | None = None
        self._link: Connection | None = None
        self._ending = threading.Lock()  # whoever waits for the reader and the app itself may end it at once

    def start(self) -> Connection:
        """Start the process unless it runs, and return its pipe."""
        if self._process is not None and self._process.is_alive() and self._link is not None:
            return self._link
        self.stop()
        self._link, far_end = _SPAWN.Pipe()
        self._process = _SPAWN.Process(target=_work, args=(far_end, self._read), daemon=True)
        self._process.start()
        far_end.close()  # so that the pipe closes when the process ends
        return self._link

    def stop(self) -> None:
        """End the process, whatever it is doing."""
        with self._ending:
            process, self._process = self._process, None
            link, self._link = self._link, None
        if process is not None:
            process.kill()
            process.join()
        if link is not None:
            link.close()

    def exchange(self, wish: W, seconds: float, progress: Progress, unwanted: threading.Event) -> Got:
        """Hand over a board and wait for the outcome; blocks, so call it in a thread.

        `unwanted` is set by whoever no longer waits for it; the process is then ended.
        """
        deadline = time.monotonic() + seconds
        try:
            link = self.start()
            link.send(wish)
            while time.monotonic() < deadline and not unwanted.is_set():
                if link.poll(_LOOK_SECONDS):
                    kind, content = link.recv()
                    if kind == "step":
                        progress(content)
                    else:
                        outcome: Got = _outcome(kind, content)
                        return outcome
        except (EOFError, OSError) as error:
            self.stop()
            _log.error("a reader process ended unexpectedly")
            text = say("The reader stopped in the middle of the work. Send the photos once more.")
            raise Unfinished(text) from error
        self.stop()
        raise Unfinished(
            say("The reading took longer than {seconds} s. Send fewer or smaller photos.", seconds=f"{seconds:.0f}")
        )


def _outcome(kind: str, content: Any) -> Any:
    """Return what a worker has made of a board, or raise what it refused."""
    if kind == "refused":
        refusal: StavesightError = content
        raise refusal
    if kind == "failed":
        _log.error("a reading failed: %s", content)
        raise Unfinished(say("The board could not be read through a fault in the program. Try other photos."))
    return content


class Asked(Protocol[W_co]):
    """A board to read, or a photo to check, that is fetched when its turn has come."""

    async def wish(self) -> W_co:
        """Fetch it."""

    def close(self) -> None:
        """Let go of whatever it holds."""


class Workers(Generic[W, Got]):
    """All workers of a kind and the queue before them.

    Parameters
    ----------
    read
        The function that reads; it must be importable by name in a fresh process.
    count
        Boards read at the same time.
    waiting
        Boards that may wait; the next one is refused with `Busy`.
    seconds
        The longest time for one board once its turn has come.
    """

    def __init__(self, read: Callable[[W, Progress], Got], *, count: int, waiting: int, seconds: float) -> None:
        self._all = tuple(_Reader(read) for _ in range(count))
        self._idle: asyncio.Queue[_Reader[W, Got]] = asyncio.Queue()
        for reader in self._all:
            self._idle.put_nowait(reader)
        self._threads = ThreadPoolExecutor(count, "reader")
        self._room = count + waiting
        self._seconds = seconds

    def start(self) -> None:
        """Start every worker, so that the first board need not wait for the imports."""
        for reader in self._all:
            reader.start()

    def stop(self) -> None:
        """End every worker."""
        for reader in self._all:
            reader.stop()
        self._threads.shutdown()

    async def read(self, asked: Asked[W], progress: Progress = lambda _: None) -> Got:
        """Wait for a free worker, load the board and have it read; what was asked is closed in any case.

        Parameters
        ----------
        asked
            The board. It is loaded when its turn has come, so that waiting boards take no memory.
        progress
            Called in another thread with each step as a sentence.

        Raises
        ------
        Busy
            Too many are waiting already.
        Unfinished
            The worker died or took too long; a new one takes its place.
        StavesightError
            What the reading itself refused.
        """
        if self._room <= 0:
            asked.close()
            raise Busy(say("All readers are at work and the queue is full. Send the photos again in a minute."))
        self._room -= 1
        try:
            return await self._read_now(await self._idle.get(), asked, progress)
        finally:
            asked.close()
            self._room += 1

    async def _read_now(self, reader: _Reader[W, Got], asked: Asked[W], progress: Progress) -> Got:
        try:
            wish = await asked.wish()
        except BaseException:
            self._idle.put_nowait(reader)
            raise
        unwanted = threading.Event()
        exchange = partial(reader.exchange, wish, self._seconds, progress, unwanted)
        # In the language of whoever asked, which a thread does not know by itself.
        work = asyncio.get_running_loop().run_in_executor(self._threads, copy_context().run, exchange)
        work.add_done_callback(lambda _: self._idle.put_nowait(reader))
        try:
            return await asyncio.shield(work)
        except asyncio.CancelledError:
            # The person has gone away. The thread ends the process, and the reader is idle again.
            unwanted.set()
            work.add_done_callback(lambda done: done.exception())
            raise


Readers = Workers[Wish, Outcome]
"""What reads whole boards."""
