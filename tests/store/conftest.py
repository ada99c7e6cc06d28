"""An empty store, a device of its own, and a clock that the test sets."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from service.store.opening import Store
from tests.store.made_up import HandClock, a_store


@pytest.fixture
def clock() -> HandClock:
    """Make a clock that goes on when told."""
    return HandClock()


@pytest.fixture
def store(tmp_path: Path, clock: HandClock) -> Iterator[Store]:
    """Open an empty store."""
    with a_store(tmp_path, clock) as opened:
        yield opened


@pytest.fixture
def mine(store: Store) -> str:
    """Take in a device."""
    return store.devices.new().id
