"""Apps with a stand-in reader, and forms to send to them."""

from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient

from service.app import create_app
from service.settings import Settings
from tests.app import standins


@pytest.fixture(scope="package", autouse=True)
def data_home(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Keep what the apps keep out of the home of whoever runs the tests."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_DATA_HOME", str(tmp_path_factory.mktemp("data")))
        yield


@pytest.fixture(scope="package")
def client() -> Iterator[TestClient]:
    """Start an app whose reader answers at once."""
    with TestClient(create_app(Settings(readers=1), standins.read_at_once)) as client:
        yield client
