"""What tests of several folders need."""

from collections.abc import Iterator

import pytest

from tests.made_up_language import made_up


@pytest.fixture(scope="module")
def made_up_language(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Offer the made-up language."""
    with made_up(tmp_path_factory.mktemp("languages")):
        yield
