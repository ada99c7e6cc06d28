"""Apps with a stand-in reader, and forms to send to them."""

from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient

from service.app import create_app
from service.settings import Settings
from tests.app import standins


@pytest.fixture(scope="package")
def client() -> Iterator[TestClient]:
    """Start an app whose reader answers at once."""
    with TestClient(create_app(Settings(readers=1), standins.read_at_once)) as client:
        yield client
