"""Settings from the environment."""

from pathlib import Path

import pytest

from service.errors import BadInput
from service.settings import Settings, find_folder


def test_settings_come_from_the_environment() -> None:
    """Each variable sets its field, and others of the environment are left alone."""
    settings = Settings.from_environment({"STAVESIGHT_READERS": "3", "STAVESIGHT_HOST": "127.0.0.1", "PATH": "/bin"})

    assert (settings.readers, settings.host, settings.port) == (3, "127.0.0.1", 8000)


@pytest.mark.parametrize(
    ("variable", "text", "words"),
    [
        ("STAVESIGHT_READERS", "many", "STAVESIGHT_READERS is “many”: it must be a whole number."),
        ("STAVESIGHT_READERS", "0", "STAVESIGHT_READERS is 0: it must lie between 1 and 64."),
        ("STAVESIGHT_PORT", "70000", "STAVESIGHT_PORT is 70000: it must lie between 1 and 65535."),
        ("STAVESIGHT_REEDERS", "2", "STAVESIGHT_REEDERS is no setting."),
        ("STAVESIGHT_BEHIND_PROXY", "*", "“*” is no address of a web server in front. Name it by number"),
        ("STAVESIGHT_BEHIND_PROXY", "0.0.0.0/0", "“0.0.0.0/0” is no address of a web server in front."),
        ("STAVESIGHT_BEHIND_PROXY", "127.0.0.1, front", "“front” is no address of a web server in front."),
        ("STAVESIGHT_KEY", "key.pem", "A certificate and its key belong together: give both, STAVESIGHT_CERTIFICATE"),
        ("STAVESIGHT_WEB", "/nowhere", "STAVESIGHT_WEB: there is no folder templates in /nowhere."),
    ],
)
def test_wrong_settings_stop_the_start(variable: str, text: str, words: str) -> None:
    """A value that cannot be used, or a misspelt variable, is refused with a sentence."""
    with pytest.raises(BadInput) as refusal:
        Settings.from_environment({variable: text})

    assert refusal.value.text.startswith(words)


def test_a_missing_folder_stops_the_start(tmp_path: Path) -> None:
    """A web folder without static files is refused before the first request."""
    (tmp_path / "templates").mkdir()

    with pytest.raises(BadInput, match="there is no folder static in"):
        Settings(web=tmp_path)


def test_a_folder_that_ships_with_the_program_is_found() -> None:
    """The pages lie beside the package in a clone; a folder that does not exist is named."""
    assert (find_folder("web") / "templates" / "base.html").is_file()
    with pytest.raises(BadInput, match="The folder no_such_folder is missing"):
        find_folder("no_such_folder")
