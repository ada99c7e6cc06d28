"""Boards put in order: the better one first, whatever the order they are given in, and why."""

import itertools
from collections.abc import Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.errors import BadInput
from service.judge.judge import judge
from service.judge.limits import DEFAULT, Limits, make_limits
from service.judge.ranking import Ranked, make_ranking, rank
from service.judge.record import Answer, Section
from tests.judge.made import make_reading, with_knot, without

BOW_MM = 1727.2


def answer_at(
    slope: float, length_mm: float = 2438.4, bow_mm: float = BOW_MM, limits: Limits = DEFAULT, error_deg: float = 0.1
) -> Answer:
    """Judge a made board of even slope on its faces."""
    return judge(make_reading({"face_1": slope}, length_mm=length_mm, error_deg=error_deg), bow_mm, limits)


STRAIGHT = answer_at(1 / 100)
SLOPING = answer_at(1 / 40)
NEAR_LIMIT = answer_at(1 / 20)
STEEP = answer_at(1 / 8)
UNREAD = judge(without(make_reading(), "face_1", "retake"), BOW_MM)
SHORT = answer_at(1 / 100, length_mm=1600.0)


def section_of(answer: Answer) -> Section:
    """Return the section that an answer has."""
    assert answer.section is not None
    return answer.section


def changed(answer: Answer, length_mm: float | None = None, **section: float) -> Answer:
    """Return an answer of a board with another length or other shares of the limit used."""
    board = answer.board if length_mm is None else answer.board.model_copy(update={"length_mm": length_mm})
    return answer.model_copy(
        update={"board": board, "section": section_of(answer).model_copy(update=section) if section else answer.section}
    )


def names(ranked: Sequence[Ranked]) -> list[str]:
    """List the names in order."""
    return [one.name for one in ranked]


def test_made_boards_have_the_verdicts_they_stand_for() -> None:
    """The boards of these tests are what their names say."""
    assert [one.verdict for one in (STRAIGHT, SLOPING, NEAR_LIMIT, UNREAD, STEEP, SHORT)] == [
        "pass",
        "pass",
        "borderline",
        "retake",
        "fail",
        "fail",
    ]


def test_verdict_comes_first_then_what_is_left_of_the_limit() -> None:
    """A straighter board goes first; one that passes before one that is not sure, that one before an unread one."""
    boards = {"Unread": UNREAD, "Steep": STEEP, "Near": NEAR_LIMIT, "Straight": STRAIGHT, "Sloping": SLOPING}

    ranked = rank(list(boards.items()))

    assert names(ranked) == ["Straight", "Sloping", "Near", "Unread", "Steep"]
    assert [one.place for one in ranked] == [1, 2, 3, 4, 5]


def test_every_place_says_why() -> None:
    """Each board is told apart from the next by the first thing in which they differ."""
    boards = {"Steep": STEEP, "Near": NEAR_LIMIT, "Straight": STRAIGHT, "Sloping": SLOPING, "Unread": UNREAD}

    whys = {one.name: one.why for one in rank(list(boards.items()))}

    assert whys["Straight"].startswith("At its worst place ")
    assert "% of the slope limit is left, with the error of the reading counted in; on Sloping " in whys["Straight"]
    assert whys["Sloping"] == "It passes; the answer of Near is still open."
    assert whys["Near"] == "Its answer is still open; Unread has to be photographed again."
    assert whys["Unread"] == "It has to be photographed again; Steep does not keep to the limits."
    assert whys["Steep"] == "All others go before it."


def test_what_is_left_is_the_records_share() -> None:
    """What is left of the limit is one less the share used at the far end of the error, in whole hundredths."""
    (one,) = rank([("Board", changed(STRAIGHT, limit_used_upper=0.654321))])

    assert one.limit_left == pytest.approx(0.35)
    assert one.spare_mm == pytest.approx(2438.4 - BOW_MM)
    assert one.why == "It is the only board."


def test_what_no_reading_can_tell_does_not_decide() -> None:
    """A thousandth of the limit is less than an error: then the longer board goes first."""
    straighter = changed(STRAIGHT, limit_used_upper=0.501)
    longer = changed(STRAIGHT, length_mm=2743.2, limit_used_upper=0.502)

    first, second = rank([("Straighter", straighter), ("Longer", longer)])

    assert first.name == "Longer"
    assert first.why == (
        "Otherwise as much of the limit is left on both, but it is 40 in (1016 mm) longer than the bow, while "
        "Straighter is 28 in (711 mm) longer than the bow."
    )
    assert second.why == "All others go before it."


def test_of_equally_long_boards_the_straighter_as_measured_goes_first() -> None:
    """A surer reading and a straighter board may leave as much; then what was measured decides."""
    surer = changed(STRAIGHT, limit_used=0.45, limit_used_upper=0.5)
    straighter = changed(STRAIGHT, limit_used=0.3, limit_used_upper=0.5)

    ranked = rank([("Surer", surer), ("Straighter", straighter)])

    assert names(ranked) == ["Straighter", "Surer"]
    assert "as measured it uses 30 % of the limit, Surer 45 %." in ranked[0].why


def test_equal_boards_share_a_place() -> None:
    """Boards alike in all that is compared share a place, say so, and the next place is left out."""
    ranked = rank([("B", STRAIGHT), ("C", SLOPING), ("A", STRAIGHT)])

    assert [(one.place, one.name) for one in ranked] == [(1, "A"), (1, "B"), (3, "C")]
    assert ranked[0].why.startswith("It is equal to B in all that is compared")
    assert ranked[1].why.startswith("At its worst place")
    assert rank([("B", STRAIGHT), ("A", STRAIGHT)])[1].why.startswith("It is equal to A")


def test_boards_that_fail_are_ordered_by_score_then_length() -> None:
    """Without a section the score tells which comes nearer; of boards too short, the longer goes first."""
    shorter = answer_at(1 / 100, length_mm=1500.0)
    knotty = judge(with_knot(make_reading({"face_1": 1 / 100}), "face_1", 1200.0, 1215.0), BOW_MM)

    assert knotty.verdict == "fail"
    assert knotty.score > STEEP.score
    assert names(rank([("Steep", STEEP), ("Knotty", knotty)])) == ["Knotty", "Steep"]
    ranked = rank([("Shorter", shorter), ("Short", SHORT)])
    assert names(ranked) == ["Short", "Shorter"]
    assert "it is 5 in (127 mm) shorter than the bow, while Shorter is 9 in (227 mm)" in ranked[0].why


ALL = {
    "Straight": STRAIGHT,
    "Twin": STRAIGHT,
    "Sloping": SLOPING,
    "Near": NEAR_LIMIT,
    "Unread": UNREAD,
    "Steep": STEEP,
    "Short": SHORT,
}


@given(st.permutations(list(ALL)), st.integers(1, len(ALL)))
@settings(deadline=None, max_examples=60)
def test_the_order_given_never_matters(order: list[str], count: int) -> None:
    """Any order of the same boards gives the same ranking, sentences included."""
    chosen = order[:count]

    assert rank([(name, ALL[name]) for name in chosen]) == rank([(name, ALL[name]) for name in sorted(chosen)])


@given(st.permutations(list(ALL)))
@settings(deadline=None, max_examples=20)
def test_leaving_a_board_out_never_turns_others_round(order: list[str]) -> None:
    """Two boards keep their order whatever else lies beside them."""
    whole = names(rank(list(ALL.items())))
    part = names(rank([(name, ALL[name]) for name in order[:4]]))

    assert part == [name for name in whole if name in part]


SHARES = st.floats(0.0, 3.0, allow_nan=False)


@given(
    st.sampled_from([STRAIGHT, NEAR_LIMIT]),
    st.tuples(SHARES, SHARES, st.floats(1800.0, 3000.0)),
    st.tuples(st.floats(0.0, 0.5), st.floats(0.0, 0.5), st.floats(0.0, 500.0)),
)
@settings(deadline=None)
def test_a_better_board_never_ranks_behind(
    base: Answer, own: tuple[float, float, float], better_by: tuple[float, float, float]
) -> None:
    """Less of the limit used, as measured and at the end of the error, and more length never cost a place."""
    used, upper, length_mm = own
    worse = changed(base, length_mm, limit_used=used, limit_used_upper=upper)
    better = changed(
        base, length_mm + better_by[2], limit_used=used - better_by[0], limit_used_upper=upper - better_by[1]
    )

    places = {one.name: one.place for one in rank([("Better", better), ("Worse", worse)])}

    assert places["Better"] <= places["Worse"]


@pytest.mark.parametrize(
    ("slopes", "lengths_mm"), [((1 / 200, 1 / 60, 1 / 30, 1 / 22), (2438.4,)), ((1 / 60,), (2743.2, 2438.4, 1800.0))]
)
def test_straighter_and_longer_boards_go_first(slopes: tuple[float, ...], lengths_mm: tuple[float, ...]) -> None:
    """Boards judged in earnest: a straighter one, and of equally straight ones the longer, goes before the other."""
    boards = [
        (f"{index}", answer_at(slope, length_mm))
        for index, (slope, length_mm) in enumerate(itertools.product(slopes, lengths_mm))
    ]

    assert names(rank(boards[::-1])) == [name for name, _ in boards]


@pytest.mark.parametrize(
    ("boards", "words"),
    [
        ([], "at least one board"),
        ([("A", STRAIGHT), ("A", SLOPING)], "Two boards are named A"),
        ([(" ", STRAIGHT)], "a name of at most 200 letters"),
        ([("A" * 201, STRAIGHT)], "a name of at most 200 letters"),
        (
            [("A", STRAIGHT), ("B", answer_at(1 / 100, bow_mm=1600.0))],
            "A and B were read for bows of different lengths",
        ),
        (
            [("A", STRAIGHT), ("B", answer_at(1 / 100, limits=make_limits("backed")))],
            "held to different limits (back_slope: 1 in 20 (2.9 deg) and 1 in 15 (3.8 deg))",
        ),
        ([("A", STRAIGHT), ("B", STRAIGHT.model_copy(update={"bow_width_mm": 30.0}))], "bows of different widths"),
        ([("A", STRAIGHT.model_copy(update={"score": float("nan")}))], "numbers that mean nothing"),
        ([("A", changed(STRAIGHT, limit_used_upper=float("inf")))], "numbers that mean nothing"),
    ],
)
def test_what_cannot_be_compared_is_refused(boards: list[tuple[str, Answer]], words: str) -> None:
    """Boards read for different bows or held to different limits are not ranked; the sentence says what to do."""
    with pytest.raises(BadInput) as refusal:
        rank(boards)

    assert refusal.value.field == "boards"
    assert words in refusal.value.text


def test_the_same_limits_however_they_came_about_are_the_same() -> None:
    """A purpose and the same slopes typed in are no difference."""
    typed = make_limits(changes={"back_slope": 1 / 15})

    ranked = rank([("A", answer_at(1 / 100, limits=make_limits("backed"))), ("B", answer_at(1 / 100, limits=typed))])

    assert [one.place for one in ranked] == [1, 1]


def test_an_order_in_which_nothing_passes_says_so() -> None:
    """The first of boards that all fail is not mistaken for a good one; every order is called an aid."""
    assert "None of these boards passes" in make_ranking([("Steep", STEEP), ("Near", NEAR_LIMIT)]).caution
    assert "None of these boards" not in make_ranking([("Straight", STRAIGHT)]).caution
    assert "aid to judgement" in make_ranking([("Straight", STRAIGHT)]).caution
