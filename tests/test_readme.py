"""What README promises is what the program does."""

import re
from dataclasses import fields
from pathlib import Path
from typing import Final

import pytest

from service.asked import FILE_FIELDS, TEXT_FIELDS
from service.cli import main
from service.judge.limits import DEFAULT
from service.settings import Settings
from service.show.words import VERDICT_WORDS
from tests.record_table import with_table

README: Final = (Path(__file__).resolve().parent.parent / "README.md").read_text(encoding="utf-8")


def test_the_table_of_the_answers_fields_is_the_record() -> None:
    """Every field of the record stands in README with its help text; `python -m tests.record_table` renews it."""
    assert with_table(README) == README


def test_the_table_of_settings_is_the_settings() -> None:
    """Every setting stands in README with its default and help text."""
    for setting in fields(Settings):
        default = "with the program" if setting.default is None else setting.default
        help_text = setting.metadata["help"]

        assert f"| `STAVESIGHT_{setting.name.upper()}` | {default} | {help_text} |" in README
    assert README.count("| `STAVESIGHT_") == len(fields(Settings))


def test_every_verdict_is_explained() -> None:
    """README explains each verdict under the words that the answer uses."""
    for verdict, words in VERDICT_WORDS.items():
        assert f"| **{words}** (`{verdict}`) |" in README


def test_the_limits_are_those_that_judge() -> None:
    """The limits told in README are the default ones."""
    assert f"1 in {1 / DEFAULT.back_slope:.0f}, on the belly 1 in {1 / DEFAULT.belly_slope:.0f}" in README


def test_the_options_shown_exist(capsys: pytest.CaptureFixture[str]) -> None:
    """Each option in README's examples is one that the command knows, each field one that the API knows."""
    helps = ""
    for command in ("read", "serve"):
        with pytest.raises(SystemExit):
            main([command, "--help"])
        helps += capsys.readouterr().out
    names = {field.name for field in (*TEXT_FIELDS, *FILE_FIELDS)}

    assert set(re.findall(r"(?<!\S)`?(--[a-z][a-z0-9-]+)", README)) - {"--help"} <= set(
        re.findall(r"--[a-z0-9-]+", helps)
    )
    assert set(re.findall(r"-F (\w+)=", README)) <= names
