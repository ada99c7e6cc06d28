"""Whatever devices do in whatever order: each sees its own alone, and the disk holds what the rows say."""

import shutil
import tempfile
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    Bundle,
    RuleBasedStateMachine,
    consumes,
    initialize,
    invariant,
    rule,
    run_state_machine_as_test,
)

from service.errors import BadInput, NotThere
from service.settings import Settings
from service.store.opening import open_store
from service.store.photos import Sent
from service.store.readings import Made
from service.store.rows import SLOTS, BoardTold
from tests.store.made_up import HandClock, answer, files_in, photo

SEEDS = st.integers(1, 4)
DEVICES = st.integers(0, 1)


class Keeping(RuleBasedStateMachine):
    """Two devices beside a plain model of what each of them keeps."""

    boards = Bundle("boards")
    photos = Bundle("photos")

    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp())
        self.clock = HandClock()
        self.store = open_store(Settings(data=str(self.folder)), self.clock)
        self.devices: list[str] = []
        #: Board to the device that owns it; photo to its board, key and seed; picture counts by board.
        self.owner: dict[str, str] = {}
        self.kept: dict[str, tuple[str, str, int]] = {}
        self.readings: dict[str, int] = {}

    @initialize()
    def begin(self) -> None:
        """Take in two devices."""
        self.devices = [self.store.devices.new().id for _ in range(2)]

    @rule(target=boards, number=DEVICES, name=st.text(max_size=20))
    def keep_board(self, number: int, name: str) -> str:
        """Keep a board."""
        row = self.store.boards.add(self.devices[number], BoardTold(name=name))
        self.owner[row.id] = self.devices[number]
        return row.id

    @rule(
        target=photos, number=DEVICES, board=boards, key=st.sampled_from("ab"), seed=SEEDS, slot=st.sampled_from(SLOTS)
    )
    def send(self, number: int, board: str, key: str, seed: int, slot: str) -> str:
        """Send a photo to a board, one's own or not, under a new key or one that was used."""
        device = self.devices[number]
        sending = Sent(slot, key, "a.jpg", photo(seed))
        if self.owner.get(board) != device:
            with pytest.raises(NotThere):
                self.store.photos.add(device, board, sending)
            return ""
        before = {i: told for i, told in self.kept.items() if self.owner[told[0]] == device and told[1] == key}
        if any((told[0], told[2]) != (board, seed) for told in before.values()):
            with pytest.raises(BadInput):
                self.store.photos.add(device, board, sending)
            return ""
        row = self.store.photos.add(device, board, sending)
        assert set(before) <= {row.id}
        self.kept[row.id] = (board, key, seed)
        return row.id

    @rule(number=DEVICES, board=boards)
    def read(self, number: int, board: str) -> None:
        """Keep an answer with two pictures."""
        made = Made(answer(), {"face_1": "<svg/>", "end": "<svg/>"}, [], "1")
        if self.owner.get(board) != self.devices[number]:
            with pytest.raises(NotThere):
                self.store.readings.add(self.devices[number], board, made)
            return
        self.store.readings.add(self.devices[number], board, made)
        self.readings[board] = self.readings.get(board, 0) + 1

    @rule(number=DEVICES, photo_id=photos)
    def look_at_photo(self, number: int, photo_id: str) -> None:
        """Look at a photo: it is there for its owner alone."""
        device = self.devices[number]
        if photo_id in self.kept and self.owner[self.kept[photo_id][0]] == device:
            assert self.store.photos.content(device, photo_id)[0].id == photo_id
        else:
            with pytest.raises(NotThere):
                self.store.photos.content(device, photo_id)

    @rule(number=DEVICES, photo_id=consumes(photos))
    def delete_photo(self, number: int, photo_id: str) -> None:
        """Delete a photo, one's own or not."""
        device = self.devices[number]
        if photo_id in self.kept and self.owner[self.kept[photo_id][0]] == device:
            self.store.photos.delete(device, photo_id)
            del self.kept[photo_id]
        else:
            with pytest.raises(NotThere):
                self.store.photos.delete(device, photo_id)

    @rule(number=DEVICES, board=boards)
    def delete_board(self, number: int, board: str) -> None:
        """Delete a board, one's own or not."""
        if self.owner.get(board) != self.devices[number]:
            with pytest.raises(NotThere):
                self.store.boards.delete(self.devices[number], board)
            return
        self.store.boards.delete(self.devices[number], board)
        self._forget([board])

    @rule(number=DEVICES)
    def delete_device(self, number: int) -> None:
        """Delete a device with all it keeps; another comes in its place."""
        self.store.devices.delete(self.devices[number])
        self._forget([board for board, owner in self.owner.items() if owner == self.devices[number]])
        self.devices[number] = self.store.devices.new().id

    @rule(hours=st.integers(0, 3))
    def sweep(self, hours: int) -> None:
        """Sweep: there is nothing to clear away."""
        self.clock.pass_by(hours=hours)
        swept = self.store.sweep()
        assert (swept.boards, swept.files, swept.rows) == (0, 0, 0)

    def _forget(self, boards: list[str]) -> None:
        for board in boards:
            del self.owner[board]
            self.readings.pop(board, None)
            self.kept = {photo_id: told for photo_id, told in self.kept.items() if told[0] != board}

    @invariant()
    def each_sees_its_own(self) -> None:
        """List for each device its own boards and photos, all of them and no other’s."""
        for device in self.devices:
            own = {board for board, owner in self.owner.items() if owner == device}
            assert {row.id for row in self.store.boards.all(device)} == own
            assert set(self.store.readings.newest(device)) == own & set(self.readings)
            photos = {row.id for board in own for row in self.store.photos.all(device, board)}
            assert photos == {photo_id for photo_id, told in self.kept.items() if told[0] in own}
            outings = {row.id for row in self.store.boards.outings(device)}
            assert outings == {row.outing_id for row in self.store.boards.all(device)}

    @invariant()
    def the_disk_holds_what_the_rows_say(self) -> None:
        """There is a file for each photo and picture, and no other; the sizes add up."""
        found = files_in(self.folder)
        assert set(self.kept) <= set(found)
        assert len(found) == len(self.kept) + 2 * sum(self.readings.values())
        used = sum(self.store.devices.used_bytes(device) for device in self.devices)
        assert used == sum((self.folder / "files" / name[:2] / name).stat().st_size for name in found)

    def teardown(self) -> None:
        """Clear the folder away."""
        self.store.close()
        shutil.rmtree(self.folder)


def test_any_order_of_doing() -> None:
    """Another device never sees anything, files equal rows, and what is sent twice is kept once."""
    how: Any = settings(max_examples=10, stateful_step_count=16, deadline=None, suppress_health_check=list(HealthCheck))
    run_state_machine_as_test(Keeping, settings=how)
