"""What the rack shows: today's boards, the best first, and those of other days."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Final

from service.app.views.answer import Picture, worst_shown
from service.app.views.kept_board import is_stale, picture_address, units_of
from service.board.phrase import side_text
from service.judge.ranking import Ranked, make_ranking
from service.judge.record import Answer
from service.language import mark, say
from service.lengths import Units, length_in, use_units
from service.show.words import VERDICT_WORDS, verdict_word
from service.sides import SIDES
from service.store.opening import Store
from service.store.rows import BoardRow, OutingRow, ReadingRow

UNREAD: Final = "unread"

UNREAD_WORD: Final = mark("Not read yet")

_DAYS: Final = (
    *(mark("Monday"), mark("Tuesday"), mark("Wednesday"), mark("Thursday"), mark("Friday"), mark("Saturday")),
    mark("Sunday"),
)
_MONTHS: Final = (
    *(mark("January"), mark("February"), mark("March"), mark("April"), mark("May"), mark("June"), mark("July")),
    *(mark("August"), mark("September"), mark("October"), mark("November"), mark("December")),
)


@dataclass(frozen=True)
class Card:
    """One board in the rack.

    Attributes
    ----------
    mark, word
        The verdict, or that there is none.
    line
        The section and the back, the main reason, or how far the photos are.
    why
        Why it stands before the next board; empty where nothing was compared.
    worst
        The place that decides, where a picture of it was kept.
    """

    id: str
    name: str
    mark: str
    word: str
    line: str
    price: str
    note: str
    chosen: bool
    stale: bool = False
    reading: bool = False
    place: int = 0
    why: str = ""
    worst: Picture | None = None


@dataclass(frozen=True)
class Day:
    """The boards of one outing."""

    id: str
    words: str
    cards: Sequence[Card]


@dataclass(frozen=True)
class RackPage:
    """The first page.

    Attributes
    ----------
    ranked, others
        Today's boards that were read for the same bow, in order, and the rest.
    caution
        What to mind about the order; empty when nothing was put in order.
    bow
        The bow that is looked for; empty when none was set.
    again
        Whether a board of the size before can be made at once.
    once
        A text that tells one touch of a button from the next.
    """

    ranked: Sequence[Card]
    others: Sequence[Card]
    caution: str
    older: Sequence[Day]
    bow: str
    again: bool
    once: str

    @property
    def first_time(self) -> bool:
        """Whether nothing is kept yet."""
        return not (self.ranked or self.others or self.older)

    @property
    def answered(self) -> Sequence[Card]:
        """The boards of today with an answer, which can be compared."""
        return [card for card in (*self.ranked, *self.others) if card.mark != UNREAD]


def rack_page(store: Store, device: str | None, is_reading: Callable[[str], bool], today: date, once: str) -> RackPage:
    """Show the rack of a device."""
    if device is None:
        return RackPage([], [], "", [], "", False, once)
    settings = store.devices.settings(device)
    outings = store.boards.outings(device)
    current = next((outing for outing in outings if outing.day == today), None)
    boards = {board.id: board for board in store.boards.all(device, current.id)} if current else {}
    newest = store.readings.newest(device, current.id) if current else {}
    order, caution = put_in_order(boards, newest)
    cards = {
        board_id: _card(store, device, board, newest.get(board_id), is_reading(board_id), order.get(board_id))
        for board_id, board in boards.items()
    }
    return RackPage(
        ranked=[cards[board_id] for board_id in order],
        others=[card for board_id, card in cards.items() if board_id not in order],
        caution=caution,
        older=_older(store, device, [outing for outing in outings if outing is not current]),
        bow=bow_words(settings.get("bow")),
        again="size" in settings,
        once=once,
    )


def put_in_order(boards: Mapping[str, BoardRow], newest: Mapping[str, ReadingRow]) -> tuple[Mapping[str, Ranked], str]:
    """Put those boards in order that were read for the same bow as the one that was read last.

    Returns
    -------
    Their places by id, the best first, and what to mind about it; nothing when none was read.
    """
    read = sorted((row for row in newest.values() if row.board_id in boards), key=lambda row: row.created)
    answers = {row.board_id: answer for row in read if (answer := row.record()) is not None}
    if not answers:
        return {}, ""
    last = list(answers)[-1]
    bow = _bow_of(answers[last])
    names: dict[str, str] = {}
    for board_id, answer in answers.items():
        if _bow_of(answer) == bow:
            names[_free_name(boards[board_id].told.name, names)] = board_id
    with use_units(units_of(boards[last].told)):
        ranking = make_ranking([(name, answers[board_id]) for name, board_id in names.items()])
    return {names[one.name]: one for one in ranking.boards}, ranking.caution


def _bow_of(answer: Answer) -> object:
    """Return what has to be the same for boards to be compared."""
    limits = tuple((item.name, item.value) for item in answer.limits.items)
    return answer.bow_length_mm, answer.bow_width_mm, limits


def _free_name(name: str, taken: Mapping[str, str]) -> str:
    """Return a name that no other board has, for the order tells boards apart by name."""
    free, number = name or say("Board"), 2
    while free in taken:
        free, number = f"{name or say('Board')} ({number})", number + 1
    return free


def _card(
    store: Store, device: str, board: BoardRow, row: ReadingRow | None, reading: bool, ranked: Ranked | None
) -> Card:
    photos = store.photos.all(device, board.id)
    answer = row.record() if row is not None else None
    if row is None or answer is None:
        seen = len({photo.slot for photo in photos} & set(SIDES))
        line = say("{count} of 4 sides photographed", count=seen) if seen else say("No photo yet")
        return _plain(board, UNREAD, say(UNREAD_WORD), line, reading=reading)
    line = line_of(answer, units_of(board.told))
    stale = is_stale(board, photos, row)
    card = _plain(board, answer.verdict, verdict_word(answer.verdict), line, reading=reading, stale=stale)
    card = replace(card, worst=worst_of(board, row, answer))
    return card if ranked is None else replace(card, place=ranked.place, why=ranked.why)


def worst_of(board: BoardRow, row: ReadingRow, answer: Answer) -> Picture | None:
    """Show the place that decides about a board; None where no picture of it was kept."""
    pictures = {name: picture_address(board.id, row, name) for name in row.pictures}
    return worst_shown(answer, pictures, units_of(board.told), f"/boards/{board.id}/answer")


def _plain(
    board: BoardRow, mark: str, word: str, line: str = "", *, reading: bool = False, stale: bool = False
) -> Card:
    told = board.told
    return Card(
        board.id, told.name or say("Board"), mark, word, line, told.price, told.note, told.chosen, stale, reading
    )


def line_of(answer: Answer, units: Units) -> str:
    """Say in one line where to cut and which face is the back, or else the main reason."""
    section = answer.section
    if section is None or answer.verdict in ("fail", "retake"):
        return answer.reasons[0].text
    ends = {"start": length_in(section.start_mm, units), "end": length_in(section.end_mm, units)}
    if answer.back is None:
        return say("From {start} to {end}", **ends)
    return say("From {start} to {end}, back: {face}", face=side_text(answer.back.face), **ends)


def _older(store: Store, device: str, outings: Sequence[OutingRow]) -> list[Day]:
    """List the boards of other days, the chosen ones first; their answers are not compared."""
    days = []
    newest = store.readings.newest(device) if outings else {}
    for outing in outings:
        cards = []
        for board in store.boards.all(device, outing.id):
            verdict = newest[board.id].answer.get("verdict") if board.id in newest else None
            known = verdict if verdict in VERDICT_WORDS else UNREAD
            cards.append(_plain(board, known, say(VERDICT_WORDS.get(known, UNREAD_WORD))))
        cards.sort(key=lambda card: not card.chosen)
        days.append(Day(outing.id, outing.name or day_words(outing.day), cards))
    return days


def day_words(day: date) -> str:
    """Write a day.

    >>> day_words(date(2031, 5, 6))
    'Tuesday 6 May 2031'
    """
    told = {"weekday": say(_DAYS[day.weekday()]), "month": say(_MONTHS[day.month - 1])}
    return say("{weekday} {day} {month} {year}", day=day.day, year=day.year, **told)


def bow_words(bow: Mapping[str, str] | None) -> str:
    """Say which bow is looked for; empty when none was set.

    >>> bow_words({"bow_length": "68", "units": "in", "bow_width": "1-1/4"})
    '68 in long, 1-1/4 in wide'
    """
    if not bow:
        return ""
    length, width = (_with_units(bow.get(name, ""), bow.get("units", "")) for name in ("bow_length", "bow_width"))
    if width:
        return say("{length} long, {width} wide", length=length, width=width)
    return say("{length} long", length=length)


def _with_units(text: str, units: str) -> str:
    """Put the units behind a length that was typed without them."""
    if not text.replace("-", "").replace("/", "").replace(".", "").isdigit():
        return text
    number = {"in": mark("{inches} in"), "mm": mark("{mm} mm")}.get(units)
    return say(number, inches=text, mm=text) if number else text
