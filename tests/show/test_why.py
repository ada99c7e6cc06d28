"""Every code that an answer may hold is explained."""

import ast
from pathlib import Path
from typing import Final, get_args

import pytest

from service.judge.record import Answer
from service.settings import find_folder
from service.show.why import CODES, PARTS, PHOTO_GROUPS, VERDICTS, why_code

SERVICE: Final = Path(find_folder("web")).parent / "service"

#: Codes of advice about a single photo, which is given before a board is read and so never stands in an answer.
ADVICE: Final = {"unsure", "closer", "level", "glare", "dim", "soft"}


def codes() -> set[str]:
    """Find every code that the program writes into a problem, a reason or a question."""
    found: set[str] = set()
    for file in sorted(SERVICE.rglob("*.py")):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call):
                continue
            name = getattr(node.func, "id", getattr(node.func, "attr", ""))
            if name in ("Problem", "Reason", "Question"):
                given = [word.value for word in node.keywords if word.arg == "code"] or node.args[:1]
                found |= {str(part.value) for part in given if isinstance(part, ast.Constant)}
    return found


def test_every_code_is_explained() -> None:
    """No reason, warning or question of an answer stands without its Why."""
    found = codes()

    assert len(found) > 30
    assert found - CODES.keys() - ADVICE == set()


def test_every_verdict_is_explained() -> None:
    """Each of the four verdicts has its Why."""
    assert VERDICTS.keys() == set(get_args(Answer.model_fields["verdict"].annotation))


@pytest.mark.parametrize("text", [*VERDICTS.values(), *PARTS.values(), *set(CODES.values())])
def test_each_is_short(text: str) -> None:
    """Two to four plain sentences, which fit a phone without scrolling far."""
    assert 2 <= text.count(". ") + text.count(": ") + 1 <= 6
    assert len(text) < 420
    assert text.endswith(".")


@pytest.mark.parametrize("group", PHOTO_GROUPS)
def test_photos_left_out_are_explained_as_a_group(group: str) -> None:
    """Whatever was wrong with a close-up or the end photo, its Why tells of photos."""
    assert "pixels" in why_code(f"{group}blurred")
