"""Readings of kept boards: each goes on and is kept even when nobody waits for it."""

import asyncio
import logging
from collections.abc import AsyncIterator
from dataclasses import dataclass, field, replace
from typing import Final

from fastapi.concurrency import run_in_threadpool

from service.app.views.asking import BEFORE, range_text
from service.app.views.kept_board import READ_AS, change_told, fingerprint, texts_of
from service.app.workers.readers import Readers
from service.asked import make_wish
from service.errors import NotThere, StavesightError, Unfinished
from service.language import say
from service.reading import Outcome, Wish
from service.store.opening import Store
from service.store.readings import Made
from service.upload import Upload

VERSION: Final = "1"
"""Of the answer's record, kept beside each answer."""

LOOK_SECONDS: Final = 0.2
"""How often whoever waits looks for a new step."""

_log = logging.getLogger(__name__)


@dataclass(eq=False)
class Job:
    """One reading of a board, from the moment it was asked for.

    Attributes
    ----------
    steps
        What it told so far.
    begun
        Whether its turn has come; until then, what comes meanwhile is read with it.
    taken
        Photos and texts that it reads, once they are fetched.
    refusal
        Why it gave no answer.
    """

    store: Store
    device: str
    board: str
    steps: list[str] = field(default_factory=list)
    begun: bool = False
    taken: tuple[tuple[str, ...], str] | None = None
    refusal: StavesightError | None = None
    task: "asyncio.Task[None] | None" = None

    async def wish(self) -> Wish:
        """Fetch the board with its photos."""
        self.begun = True
        self.taken, wish = await run_in_threadpool(self._fetch)
        return wish

    def close(self) -> None:
        """Hold nothing."""

    def current(self) -> tuple[tuple[str, ...], str]:
        """Return which photos and texts a reading would take now."""
        told = self.store.boards.get(self.device, self.board).told
        return tuple(photo.id for photo in self.store.photos.all(self.device, self.board)), fingerprint(told)

    def _fetch(self) -> tuple[tuple[tuple[str, ...], str], Wish]:
        told = self.store.boards.get(self.device, self.board).told
        rows = self.store.photos.all(self.device, self.board)
        photos: dict[str, tuple[Upload, ...]] = {}
        for row in rows:
            kept, data = self.store.photos.content(self.device, row.id)
            photos[row.slot] = (*photos.get(row.slot, ()), Upload(kept.name, data))
        return (tuple(row.id for row in rows), fingerprint(told)), make_wish(texts_of(told), photos)

    def keep(self, outcome: Outcome) -> None:
        """Keep the answer, and what it was made from."""
        photos, read_as = self.taken or ((), "")
        pictures = {**outcome.pictures, **outcome.looks}
        former = self.store.readings.all(self.device, self.board)
        before = range_text(former[0].record()) if former else ""
        self.store.readings.add(self.device, self.board, Made(outcome.answer, pictures, photos, VERSION))
        change_told(
            self.store,
            self.device,
            self.board,
            lambda told: replace(told, asked={**told.asked, READ_AS: read_as, BEFORE: before}),
        )
        for older in self.store.readings.all(self.device, self.board)[1:]:
            self.store.readings.delete(self.device, older.id)  # only the newest is shown, and pictures take room


class Desk:
    """The readings that are going on, one a board at a time."""

    def __init__(self, readers: Readers, store: Store) -> None:
        self._readers = readers
        self._store = store
        self._jobs: dict[str, Job] = {}
        self._refusals: dict[str, StavesightError] = {}

    def refusal(self, board: str) -> StavesightError | None:
        """Return why the last reading of a board gave no answer; None when it gave one."""
        return self._refusals.get(board)

    def is_reading(self, board: str) -> bool:
        """Tell whether a board is being read, or waits for it."""
        return board in self._jobs

    async def wait(self, board: str, seconds: float) -> None:
        """Wait until a board is not being read any more, but no longer than told."""
        job = self._jobs.get(board)
        if job is not None and job.task is not None:
            await asyncio.wait({job.task}, timeout=seconds)

    async def start(self, device: str, board: str) -> Job:
        """Have a board read as it is now; a reading that sees the same is joined."""
        job, before = Job(self._store, device, board), self._jobs.get(board)
        if before is not None:
            now = await run_in_threadpool(job.current)
            before = self._jobs.get(board)  # it may have ended meanwhile, or another one waits already
            if before is not None and (not before.begun or before.taken == now):
                return before
        self._jobs[board] = job
        job.task = asyncio.create_task(self._run(job, before))
        return job

    async def _run(self, job: Job, before: Job | None) -> None:
        try:
            if before is not None and before.task is not None:
                await asyncio.wait({before.task})
            job.steps.append(say("Waiting for a free reader"))
            outcome = await self._readers.read(job, job.steps.append)
            await run_in_threadpool(job.keep, outcome)
            self._refusals.pop(job.board, None)
        except StavesightError as refusal:
            job.refusal = refusal
            if not isinstance(refusal, NotThere):  # then nobody will ask for the board again
                self._refusals[job.board] = refusal
        except Exception as error:  # nobody may be waiting who would see it
            _log.error("a reading could not be kept: %s", type(error).__name__)
            text = say("The answer could not be kept through a fault in the program. Read it once more.")
            self._refusals[job.board] = job.refusal = Unfinished(text)
        finally:
            if self._jobs.get(job.board) is job:
                del self._jobs[job.board]

    async def stop(self) -> None:
        """End all readings."""
        tasks = [job.task for job in self._jobs.values() if job.task is not None]
        for task in tasks:
            task.cancel()
        if tasks:
            await asyncio.wait(tasks)


async def follow(job: Job) -> AsyncIterator[str]:
    """Tell the steps of a reading, those so far and those to come; an empty one after each look."""
    told = 0
    while job.task is not None:
        for step in job.steps[told:]:
            told += 1
            yield step
        if job.task.done():
            return
        yield ""
        await asyncio.wait({job.task}, timeout=LOOK_SECONDS)
