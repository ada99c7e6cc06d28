"""Worker processes: how many, how long, and what happens when one is lost."""

import asyncio
import logging

import pytest

from service.app.workers.readers import Read, Readers
from service.asked import make_wish
from service.errors import BadPhoto, Busy, Unfinished
from service.reading import Outcome, Wish
from service.upload import Upload
from tests.app import standins
from tests.app.forms import SIZES


class Board:
    """A board that is asked for."""

    def __init__(self, wood: str = "") -> None:
        self.closed = False
        self._wood = wood

    async def wish(self) -> Wish:
        """Fetch it."""
        return make_wish({**SIZES, "wood": self._wood}, {"face_1": [Upload("secret.jpg", b"photo")]})

    def close(self) -> None:
        """Note that it was let go."""
        self.closed = True


def readers(read: Read, waiting: int = 0, seconds: float = 30.0) -> Readers:
    """Make one worker."""
    return Readers(read, count=1, waiting=waiting, seconds=seconds)


def test_a_reading_tells_its_steps_and_lets_the_photos_go() -> None:
    """The steps of the worker process arrive here, and the photos are closed afterwards."""
    pool, board, steps = readers(standins.read_at_once), Board(), list[str]()

    outcome = asyncio.run(pool.read(board, steps.append))
    pool.stop()

    assert outcome.answer.verdict == "borderline"
    assert steps == ["Reading face_1"]
    assert board.closed


def test_a_full_queue_refuses_at_once() -> None:
    """With one at work and one waiting the third is refused, and the first two are answered."""
    pool, third = readers(standins.read_slowly, waiting=1), Board()

    async def three() -> tuple[Outcome, Outcome]:
        first = asyncio.create_task(pool.read(Board()))
        second = asyncio.create_task(pool.read(Board()))
        await asyncio.sleep(0.1)
        with pytest.raises(Busy, match="Send the photos again in a minute"):
            await pool.read(third)
        return await asyncio.gather(first, second)

    outcomes = asyncio.run(three())
    pool.stop()

    assert len(outcomes) == 2
    assert third.closed


def test_a_worker_that_dies_is_told_and_replaced() -> None:
    """A crash costs one reading; the next one is answered by a new worker."""
    pool = readers(standins.die)

    async def twice() -> Outcome:
        with pytest.raises(Unfinished, match="The reader stopped in the middle of the work"):
            await pool.read(Board())
        return await pool.read(Board("oak"))

    outcome = asyncio.run(twice())
    pool.stop()

    assert outcome.answer.board.species == "oak"


def test_a_reading_that_takes_too_long_is_ended() -> None:
    """The time limit ends the worker, and says so."""
    pool = readers(standins.read_for_ever, seconds=1.0)

    with pytest.raises(Unfinished, match="took longer than 1 s"):
        asyncio.run(pool.read(Board()))
    pool.stop()


def test_whoever_goes_away_frees_the_worker() -> None:
    """A reading that is no longer wanted is ended, so that the next one need not wait for it."""
    pool, board, steps = readers(standins.read_for_ever), Board(), list[str]()

    async def give_up(board: Board) -> None:
        steps.clear()
        task = asyncio.create_task(pool.read(board, steps.append))
        while not steps:
            await asyncio.sleep(0.01)
        task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await task

    async def give_up_twice() -> None:
        await asyncio.wait_for(give_up(board), timeout=30)
        await asyncio.wait_for(give_up(Board()), timeout=30)

    asyncio.run(give_up_twice())
    pool.stop()

    assert board.closed


def test_a_refusal_comes_back_as_it_was_raised() -> None:
    """What the reading refuses keeps its kind, sentence and field on the way out of the worker."""
    pool = readers(standins.refuse)

    with pytest.raises(BadPhoto) as refusal:
        asyncio.run(pool.read(Board()))
    pool.stop()

    assert (refusal.value.text, refusal.value.field) == ("secret.jpg is no photo that can be opened.", "face_1")


def test_a_fault_is_logged_without_names(caplog: pytest.LogCaptureFixture) -> None:
    """A fault in the program is told in plain words; the log has its kind and place, not its message."""
    pool = readers(standins.stumble)

    with caplog.at_level(logging.ERROR), pytest.raises(Unfinished, match="a fault in the program"):
        asyncio.run(pool.read(Board()))
    pool.stop()

    assert "ZeroDivisionError in standins.py, line" in caplog.text
    assert "secret" not in caplog.text
