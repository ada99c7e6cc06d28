"""Apps with a stand-in reader, and forms to send to them."""

from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient

from service.app import create_app
from service.settings import Settings
from tests.app import standins
from tests.app.phones import Phone


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


@pytest.fixture(scope="package")
def keeping(data_home: None) -> Iterator[TestClient]:
    """Start an app that keeps boards, whose reader judges by length and whose checker by the photo's name."""
    app = create_app(Settings(readers=1, waiting=20), standins.read_by_length, standins.check_at_once)
    with TestClient(app) as client:
        yield client


@pytest.fixture
def phone(keeping: TestClient) -> Phone:
    """Make a phone that was never here."""
    return Phone(keeping)


@pytest.fixture
def other(keeping: TestClient) -> Phone:
    """Make another one."""
    return Phone(keeping)
