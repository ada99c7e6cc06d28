"""The command line, through its entry."""

import json
import socket
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from service import cli, demo, serving
from service.app.workers.readers import Progress
from service.board.by_hand import DismissedKnot
from service.cli import main
from service.errors import BadInput, Unfinished
from service.judge.limits import make_limits
from service.judge.record import Answer
from service.network import phone_address
from service.reading import Outcome, Wish
from service.settings import Settings
from tests.app import standins

SIZES = ["--length", "96in", "--width", "1.5in", "--thickness", "0.75in", "--bow-length", "68in"]


@pytest.fixture
def seen(monkeypatch: pytest.MonkeyPatch) -> list[Wish]:
    """Put a reader in place that answers at once, and collect what it is asked."""
    wishes: list[Wish] = []

    def read(wish: Wish, progress: Progress) -> Outcome:
        wishes.append(wish)
        return standins.read_at_once(wish, progress)

    monkeypatch.setattr(cli, "read_board", read)
    return wishes


@pytest.fixture
def photos(tmp_path: Path) -> list[str]:
    """Make four files and return the arguments that name them."""
    arguments = []
    for side in ("face-1", "edge-1", "face-2", "edge-2"):
        file = tmp_path / f"{side}.jpg"
        file.write_bytes(side.encode())
        arguments += [f"--{side}", str(file)]
    return arguments


def test_a_board_is_read(seen: list[Wish], photos: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """Every option reaches the reader; the answer goes to standard output, the steps to standard error."""
    extra = ["--wood", "red oak", "--corners-face-1", "1,2 9,2 9,4 1,4", "--close-edge-1", photos[1], photos[3]]

    status = main(["read", *SIZES, *photos, *extra, "--end", photos[1]])

    told = capsys.readouterr()
    (wish,) = seen
    assert status == 0
    assert (wish.size.length_mm, wish.size.width_mm, wish.size.thickness_mm) == (2438.4, 38.1, 19.05)
    assert wish.bow_length_mm == pytest.approx(1727.2)
    assert wish.species == "red oak"
    assert [wish.photos[side][0].data for side in wish.photos] == [b"face-1", b"edge-1", b"face-2", b"edge-2"]
    assert wish.photos["face_1"][0].corners == ((1, 2), (9, 2), (9, 4), (1, 4))
    assert [upload.data for upload in wish.closeups["edge_1"]] == [b"face-1", b"edge-1"]
    assert wish.end is not None
    assert wish.end.name == "face-1.jpg"
    assert told.out.startswith("Not sure yet: a 68 in bow may come out of this board")
    assert "Reading face_1" in told.err


def test_ink_and_scribe_tests_reach_the_reader(seen: list[Wish], photos: list[str]) -> None:
    """Lines entered as options are handed on as slopes with their sign."""
    main(
        ["read", *SIZES, *photos, "--ink", "face_1 1/8 in up over 10 in at 36 in", "--scribe", "face_2 0mm over 300mm"]
    )

    first, second = seen[0].by_hand.tests
    assert (first.side, first.method) == ("face_1", "ink")
    assert first.slope == pytest.approx(0.0125)
    assert first.position_mm == pytest.approx(914.4)
    assert (second.side, second.method, second.slope, second.position_mm) == ("face_2", "scribe", 0.0, None)


def test_several_photos_of_a_side_keep_their_order(seen: list[Wish], photos: list[str]) -> None:
    """Overlapping photos are handed on in the order in which they were named."""
    main(["read", *SIZES, "--face-1", photos[3], photos[1]])

    assert [upload.name for upload in seen[0].photos["face_1"]] == ["edge-1.jpg", "face-1.jpg"]


def test_json_is_the_record(seen: list[Wish], photos: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """With --json the whole record is printed, under the record's own names, and nothing else."""
    main(["read", *SIZES, *photos, "--json"])

    printed = capsys.readouterr().out
    assert Answer.model_validate_json(printed) == standins.answer_for(seen[0])
    assert json.loads(printed)["rings"]["from"] == ["end"]


def test_units_and_store_size(seen: list[Wish], photos: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """Whoever says --units mm types plain numbers and reads millimetres."""
    sizes = ["--length", "2400", "--bow-length", "1700", "--size", "1x2", "--units", "mm"]

    main(["read", *sizes, *photos])

    assert (seen[0].size.length_mm, seen[0].nominal) == (2400.0, "1x2")
    assert "Cut from 254 mm to 1954 mm" in capsys.readouterr().out


def test_pictures_are_written(seen: list[Wish], photos: list[str], tmp_path: Path) -> None:
    """Each side's picture and the margin's become files in the folder, which is made when it is missing."""
    main(["read", *SIZES, *photos, "--pictures", str(tmp_path / "new" / "pictures")])

    files = sorted((tmp_path / "new" / "pictures").iterdir())
    assert [file.name for file in files] == ["edge_1.svg", "edge_2.svg", "face_1.svg", "face_2.svg", "margin.svg"]
    assert all(ET.parse(file).getroot().tag.endswith("svg") for file in files)  # noqa: S314 - our own files


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        (["--length", "96"], "“96” needs a unit"),
        (["--length", "0in"], "must be more than zero"),
        (["--bow-length", ""], "Give the bow's length"),
        (["--face-1", "no_such_file.jpg"], "no_such_file.jpg cannot be read: No such file or directory."),
        (["--face-1", "."], ". cannot be read: Is a directory."),
        (["--units", "yards"], "choose in or mm"),
        (["--size", "9x9"], "no store size known here"),
        (["--ink", "face_1 uphill"], "is no line that can be read"),
        (["--scribe", "face_1 3 mm up over 50 mm"], "too short to read a slope on"),
    ],
)
def test_what_cannot_be_used_is_refused(
    seen: list[Wish], photos: list[str], capsys: pytest.CaptureFixture[str], changes: list[str], words: str
) -> None:
    """A wrong argument or file ends with status 2, one sentence on standard error and no answer."""
    status = main(["read", *SIZES, *photos, *changes])

    told = capsys.readouterr()
    assert (status, told.out, seen) == (2, "", [])
    assert told.err.startswith("stavesight: ")
    assert words in told.err


def test_limits_and_entries_reach_the_reader(seen: list[Wish], photos: list[str]) -> None:
    """What the bow is for, single limits, its width, knots and cracks are handed on."""
    limits = ["--purpose", "first bow", "--belly-limit", "6 %", "--bow-width", "1-1/4 in"]
    entries = ["--knot", "face_1 at 36 in", "--no-knot", "edge_2 at 40 in", "--end-check", "marked 3 in"]

    main(["read", *SIZES, *photos, *limits, *entries])

    (wish,) = seen
    assert wish.limits == make_limits("first_bow", "", {"belly_slope": 0.06})
    assert wish.bow_width_mm == 31.75
    assert [knot.side for knot in wish.by_hand.knots] == ["face_1"]
    assert wish.by_hand.no_knots == (DismissedKnot("edge_2", 1016.0),)
    assert wish.by_hand.end_checks_mm == pytest.approx((76.2, 0.0))


@pytest.mark.parametrize(
    ("option", "text", "words"),
    [
        ("--back-limit", "20", "Is 1 in 20 meant?"),
        ("--purpose", "war", "choose unbacked, backed or first_bow"),
        ("--bow-width", "2 in", "cannot be cut from a board 1-1/2 in (38 mm) wide"),
        ("--knot", "somewhere", "is no knot that can be read"),
        ("--end-check", "marked 60 in", "past the middle of the board"),
    ],
)
def test_limits_and_entries_that_cannot_be_used_are_refused(
    seen: list[Wish], photos: list[str], capsys: pytest.CaptureFixture[str], option: str, text: str, words: str
) -> None:
    """Nonsense is told before any photo is read."""
    assert main(["read", *SIZES, *photos, option, text]) == 2
    assert seen == []
    assert words in capsys.readouterr().err


def test_no_photo_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    """Sizes alone are not enough, and the real reader is not even asked."""
    assert main(["read", *SIZES]) == 2
    assert "No photo of a whole side was given" in capsys.readouterr().err


def test_a_file_larger_than_any_photo_is_not_loaded(
    tmp_path: Path, photos: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """A huge file is refused by its size alone."""
    huge = tmp_path / "huge.jpg"
    with huge.open("wb") as file:
        file.truncate(Settings.photo_bytes + 1)

    assert main(["read", *SIZES, *photos, "--face-1", str(huge)]) == 2
    assert "huge.jpg holds more than 40 MB" in capsys.readouterr().err


def test_pictures_that_cannot_be_written_are_told(
    seen: list[Wish], photos: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """A file in the place of the folder is refused with the system's reason."""
    assert main(["read", *SIZES, *photos, "--pictures", photos[1]]) == 2
    assert "The pictures cannot be written to" in capsys.readouterr().err


def test_an_unfinished_reading_has_a_status_of_its_own(
    monkeypatch: pytest.MonkeyPatch, photos: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """A fault of the program is not the user's: status 1."""

    def give_up(wish: Wish, progress: Progress) -> Outcome:
        raise Unfinished("It stopped.")

    monkeypatch.setattr(cli, "read_board", give_up)

    assert main(["read", *SIZES, *photos]) == 1
    assert capsys.readouterr().err == "stavesight: It stopped.\n"


@pytest.mark.parametrize("arguments", [[], ["read", "--lenght", "96in"], ["bake"], ["serve", "--port", "high"]])
def test_unknown_arguments_end_with_status_2(arguments: list[str]) -> None:
    """What the command does not know is refused with its usage."""
    with pytest.raises(SystemExit) as end:
        main(arguments)

    assert end.value.code == 2


def test_the_module_is_the_command() -> None:
    """`python -m service` answers like the installed command."""
    done = subprocess.run(
        [sys.executable, "-m", "service", "read", "--help"], capture_output=True, text=True, check=False
    )

    assert done.returncode == 0
    assert "--close-edge-2 FILE" in done.stdout


def test_a_reader_that_stops_early_is_no_fault() -> None:
    """Piped into a command that stops reading, the program ends without a complaint."""
    command = [sys.executable, "-u", "-m", "service", "demo"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as run:
        assert run.stdout is not None
        assert run.stderr is not None
        run.stdout.readline()
        run.stdout.close()
        complaint = run.stderr.read()

    assert run.returncode == 1
    assert "Traceback" not in complaint
    assert "BrokenPipe" not in complaint


def test_the_phone_is_invited_with_its_address() -> None:
    """The start says the address for a phone and draws it as a code; a private one says why there is none."""
    open_words = serving.invitation(Settings(host="192.0.2.7", port=8123))
    closed_words = serving.invitation(Settings(host="127.0.0.1", port=8123))

    assert "On a phone in the same network: http://192.0.2.7:8123" in open_words
    assert "█" in open_words
    assert "No phone can reach it" in closed_words


def test_a_taken_port_is_told_before_anybody_is_invited(capsys: pytest.CaptureFixture[str]) -> None:
    """When another program listens there, one sentence says so and no address is shown."""
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]

        status = main(["serve", "--host", "127.0.0.1", "--port", str(port)])

    told = capsys.readouterr()
    assert (status, told.out) == (2, "")
    assert told.err.startswith(f"stavesight: 127.0.0.1, port {port}, cannot be used: Address already in use.")


def test_the_phones_address_is_no_loop() -> None:
    """An app that listens everywhere is reached by the machine's own address, never by the loop address."""
    address = phone_address("0.0.0.0")  # noqa: S104 - asked about, not listened on

    assert address is None or not address.startswith(("127.", "0."))


def make_demo(folder: Path, name: str, **expected: object) -> None:
    """Write a demo board of four files that are no photos; the stand-in does not open them."""
    board = folder / name.replace(" ", "_")
    board.mkdir()
    for side in ("face_1", "edge_1", "face_2", "edge_2", "face_1_close"):
        (board / f"{side}.jpg").write_bytes(b"photo")
    truth = {
        "name": name,
        "story": "Made up.",
        "length_mm": 2438.4,
        "width_mm": 38.1,
        "thickness_mm": 19.05,
        "bow_length_mm": 1727.2,
        "expected": {"verdict": "borderline", "back": "face_2", "section_start_mm": [200, 300], **expected},
    }
    (board / "truth.json").write_text(json.dumps(truth), encoding="utf-8")


def test_the_demo_compares_with_what_is_known(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A demo whose answers are right ends with 0, and each board stands with its story, answer and truth."""
    make_demo(tmp_path, "First Board")
    make_demo(tmp_path, "Other Board", back=None, section_start_mm=None)

    status = demo.run_demo(tmp_path / "pictures", standins.read_at_once, tmp_path)

    told = capsys.readouterr().out
    assert status == 0
    assert "Board 1 of 2: First Board\nMade up." in told
    assert "the section begins between 200 and 300 mm" in " ".join(told.split())
    assert told.count("Mind: A bow can break.") == 1
    assert told.rstrip().endswith("2 of 2 answers agree with what is known.")
    assert (tmp_path / "pictures" / "first_board" / "face_1.svg").is_file()


@pytest.mark.parametrize(
    ("expected", "words"),
    [
        ({"verdict": "pass"}, "the verdict is borderline, right is pass"),
        ({"back": "face_1"}, "the back is face_2, right is face_1"),
        ({"section_start_mm": [0, 200]}, "the section begins at 254.0 mm, right is 0 to 200 mm"),
    ],
)
def test_a_demo_answer_that_differs_ends_with_1(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], expected: dict[str, object], words: str
) -> None:
    """Each kind of difference is told and makes the status 1."""
    make_demo(tmp_path, "Board", **expected)

    assert demo.run_demo(None, standins.read_at_once, tmp_path) == 1
    assert f"DIFFERS: {words}" in " ".join(capsys.readouterr().out.split())


def test_a_demo_without_boards_is_refused(tmp_path: Path) -> None:
    """An empty folder is told, not counted as a success."""
    with pytest.raises(BadInput, match="There are no demo boards in"):
        demo.run_demo(None, standins.read_at_once, tmp_path)
