"""Ranking saved answers from the command line."""

from pathlib import Path

import pytest

from service import cli
from service.cli import ANSWER_BYTES, main
from service.judge.judge import judge
from service.judge.ranking import Ranking
from tests.app import standins
from tests.judge.made import make_reading


def saved(folder: Path, name: str, slope: float, bow_mm: float = 1727.2) -> str:
    """Save the answer of a made board of even slope as `read --json` prints it."""
    answer = judge(make_reading({"face_1": slope}), bow_mm)
    file = folder / f"{name}.json"
    file.parent.mkdir(exist_ok=True)
    file.write_text(answer.model_dump_json(by_alias=True, indent=2), encoding="utf-8")
    return str(file)


def test_boards_are_put_in_order(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Saved answers are ranked under their files' names, straightest first, each with its reason."""
    files = [saved(tmp_path, "steep", 1 / 8), saved(tmp_path, "straight", 1 / 100), saved(tmp_path, "sloping", 1 / 40)]

    status = main(["rank", *files])

    told = " ".join(capsys.readouterr().out.split())
    assert status == 0
    assert told.startswith("1. straight: Take it. At its worst place ")
    assert "2. sloping: Take it. It passes; steep does not keep to the limits." in told
    assert "3. steep: Leave it." in told
    assert "Mind: The order is an aid to judgement" in told


def test_the_order_is_printed_as_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With --json the whole order is printed and nothing else; files of one name are told apart by their folders."""
    files = [saved(tmp_path / "one", "oak", 1 / 40), saved(tmp_path / "two", "oak", 1 / 100)]

    main(["rank", "--json", *files])

    ranking = Ranking.model_validate_json(capsys.readouterr().out)
    assert [(board.place, board.name) for board in ranking.boards] == [(1, files[1]), (2, files[0])]


def test_what_read_prints_can_be_ranked(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The output of `read --json`, saved to a file, is what `rank` reads."""
    monkeypatch.setattr(cli, "read_board", standins.read_at_once)
    picture, file = tmp_path / "face.jpg", tmp_path / "board.json"
    picture.write_bytes(b"photo")
    main(["read", "--length=96in", "--size=1x2", "--bow-length=68in", "--face-1", str(picture), "--json"])
    file.write_text(capsys.readouterr().out, encoding="utf-8")

    assert main(["rank", str(file)]) == 0
    assert capsys.readouterr().out.startswith("1. board: Not sure yet. It is the only board.")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (None, "cannot be read: No such file or directory."),
        ("", "holds no whole answer of this program. Save one with: stavesight read ... --json > board.json"),
        ("{}", "holds no whole answer"),
        ("Take it: a 68 in bow can come out of this board.", "holds no whole answer"),
        ("[" * 100_000, "holds no whole answer"),
        (" " * (ANSWER_BYTES + 1), "is larger than any saved answer"),
    ],
    ids=["missing", "empty", "bare", "words", "brackets", "huge"],
)
def test_a_file_that_is_no_answer_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str | None, words: str
) -> None:
    """Files that `read --json` did not print end with status 2 and a sentence that says how to make one."""
    file = tmp_path / "other.json"
    if text is not None:
        file.write_text(text, encoding="utf-8")

    assert main(["rank", saved(tmp_path, "straight", 1 / 100), str(file)]) == 2

    told = capsys.readouterr()
    assert told.out == ""
    assert words in told.err


def test_boards_for_different_bows_are_not_ranked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A board read for a shorter bow is not better than one read for a longer."""
    files = [saved(tmp_path, "long", 1 / 40), saved(tmp_path, "short", 1 / 40, bow_mm=1524.0)]

    assert main(["rank", *files]) == 2
    assert "long and short were read for bows of different lengths" in capsys.readouterr().err
