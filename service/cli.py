"""The command line: read a board, check photos, put boards in order, serve the web app, read the demo boards."""

import argparse
import json
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from pydantic import ValidationError

from service.asked import FILE_FIELDS, TEXT_FIELDS, make_wish, read_texts, read_units
from service.checking import CHECK_FIELDS, check, check_sentences, read_check_sizes
from service.demo import run_demo
from service.errors import BadInput, StavesightError, TooLarge, Unfinished
from service.judge.ranking import make_ranking
from service.judge.record import Answer
from service.language import say
from service.reading import read_board
from service.serving import serve
from service.settings import Settings
from service.show.words import summary_lines, verdict_word
from service.store.pictures import save_pictures
from service.terminal import tell, wrapped
from service.upload import Upload

ANSWER_BYTES: Final = 4 * 1024**2
"""Largest saved answer: that of the longest board takes an eighth of it."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; return 0 for an answer whatever its verdict, 2 for arguments or files that cannot be used."""
    options = _parser().parse_args(arguments)
    try:
        status: int = options.run(options)
    except StavesightError as error:
        print(f"stavesight: {error.text}", file=sys.stderr)
        return 1 if isinstance(error, Unfinished) else 2
    except BrokenPipeError:
        # Whoever read the answer, such as `head`, has seen enough; nothing may be written at the exit either.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    return status


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="stavesight",
        description="Reads the grain of a board from phone photos and says whether a bow can come out of it. "
        "An aid to judgement, no promise: ask an experienced bowyer before you cut or bend.",
    )
    commands = parser.add_subparsers(title="commands", required=True, metavar="COMMAND")
    _add_read(commands.add_parser("read", help="read a board from its photos"))
    _add_check(commands.add_parser("check", help="say of single photos whether they can be read"))
    _add_rank(commands.add_parser("rank", help="put boards that were read in order, the best first"))
    _add_serve(commands.add_parser("serve", help="start the web app for the phone"))
    _add_demo(commands.add_parser("demo", help="read the made-up demo boards and compare with what is known of them"))
    return parser


def _add_read(parser: argparse.ArgumentParser) -> None:
    parser.set_defaults(run=_read)
    for text in TEXT_FIELDS:
        parser.add_argument(_option(text.name), metavar="TEXT", default="", help=f"{text.help} Example: {text.example}")
    for file in FILE_FIELDS:
        parser.add_argument(_option(file.name), metavar="FILE", nargs="+", type=Path, default=[], help=file.help)
    parser.add_argument("--json", action="store_true", help="print the whole answer as JSON")
    parser.add_argument("--pictures", metavar="DIR", type=Path, help="write the marked picture of each side there")


def _add_check(parser: argparse.ArgumentParser) -> None:
    parser.set_defaults(run=_check)
    parser.add_argument("photos", metavar="PHOTO", nargs="+", type=Path, help="photos of whole sides, parts, close-ups")
    for text in TEXT_FIELDS:
        if text.name in CHECK_FIELDS:
            parser.add_argument(
                _option(text.name), metavar="TEXT", default="", help=f"{text.help} Example: {text.example}"
            )
    parser.add_argument("--json", action="store_true", help="print a list with one record for each photo as JSON")


def _add_rank(parser: argparse.ArgumentParser) -> None:
    parser.set_defaults(run=_rank)
    parser.add_argument(
        "answers", metavar="ANSWER", nargs="+", type=Path, help="answers as `stavesight read --json` prints them"
    )
    parser.add_argument("--json", action="store_true", help="print the order as JSON")


def _add_serve(parser: argparse.ArgumentParser) -> None:
    names = ("host", "port", "behind_proxy", "certificate", "key")
    parser.set_defaults(run=lambda options: serve({name: getattr(options, name) for name in names}))
    parser.add_argument("--host", help="address to listen on; 127.0.0.1 keeps phones out")
    parser.add_argument("--port", type=int, help="port to listen on")
    parser.add_argument(
        "--behind-proxy",
        metavar="ADDRESSES",
        help="address of a web server in front that is believed when it tells how a phone reached it; several with "
        "commas between them",
    )
    parser.add_argument("--certificate", metavar="FILE", help="certificate for a secure address (https)")
    parser.add_argument("--key", metavar="FILE", help="key of that certificate")


def _add_demo(parser: argparse.ArgumentParser) -> None:
    parser.set_defaults(run=lambda options: run_demo(options.pictures))
    parser.add_argument("--pictures", metavar="DIR", type=Path, help="write the marked pictures there")


def _option(field: str) -> str:
    return f"--{field.replace('_', '-')}"


def _read(options: argparse.Namespace) -> int:
    given = vars(options)
    typed = {text.name: given[text.name] for text in TEXT_FIELDS}
    read_texts(typed)  # a wrong size is told before any photo is opened
    photos = {file.name: [_upload(path, file.name) for path in given[file.name]] for file in FILE_FIELDS}
    outcome = read_board(make_wish(typed, photos), tell)
    if options.pictures is not None:
        save_pictures(options.pictures, outcome.pictures)
    if options.json:
        print(outcome.answer.model_dump_json(by_alias=True, indent=2))
    else:
        print(wrapped(summary_lines(outcome.answer, read_units(typed["units"]) or "in")))
    return 0


def _check(options: argparse.Namespace) -> int:
    """Check photos; the status is 0 whatever is said of them."""
    typed = {name: vars(options)[name] for name in CHECK_FIELDS}
    length_mm, across_mm = read_check_sizes(typed)
    uploads = [_upload(path, "photos") for path in options.photos]
    checks = [check(upload, length_mm, across_mm) for upload in uploads]
    if options.json:
        print(json.dumps([one.model_dump() for one in checks], indent=2, ensure_ascii=False))
    else:
        units = read_units(typed["units"]) or "in"
        print(wrapped([sentence for one in checks for sentence in check_sentences(one, units)]))
    return 0


def _rank(options: argparse.Namespace) -> int:
    """Put boards in order; the status is 0 whatever is said of them."""
    paths: list[Path] = options.answers
    stems = [path.stem for path in paths]
    # Boards are named by their files; files of one name in different folders, by their whole paths.
    names = [path.stem if stems.count(path.stem) == 1 else str(path) for path in paths]
    ranking = make_ranking([(name, _saved_answer(path)) for name, path in zip(names, paths, strict=True)])
    if options.json:
        print(ranking.model_dump_json(indent=2))
    else:
        lines = [f"{one.place}. {one.name}: {verdict_word(one.verdict)}. {one.why}" for one in ranking.boards]
        print(wrapped([*lines, say("Mind: {caution}", caution=ranking.caution)]))
    return 0


def _saved_answer(path: Path) -> Answer:
    """Read an answer from its file, unless that is larger than any answer."""
    try:
        if path.stat().st_size > ANSWER_BYTES:
            raise TooLarge(
                say(
                    "{file} is larger than any saved answer. Name files that `stavesight read` printed.", file=path.name
                )
            )
        return Answer.model_validate_json(path.read_bytes())
    except OSError as error:
        raise BadInput(say("{file} cannot be read: {why}.", file=path, why=error.strerror), "answers") from error
    except ValidationError as error:
        raise BadInput(
            say(
                "{file} holds no whole answer of this program. Save one with: stavesight read ... --json > board.json",
                file=path.name,
            ),
            "answers",
        ) from error


def _upload(path: Path, field: str) -> Upload:
    """Read a photo file, unless it is larger than any photo."""
    most_bytes = Settings.photo_bytes
    try:
        if path.stat().st_size > most_bytes:
            raise TooLarge(
                say(
                    "{file} holds more than {megabytes} MB. Give it in a smaller size.",
                    file=path.name,
                    megabytes=most_bytes // 1024**2,
                ),
                field,
            )
        return Upload(path.name, path.read_bytes())
    except OSError as error:
        raise BadInput(say("{file} cannot be read: {why}.", file=path, why=error.strerror), field) from error
