"""What a careful person decides about ten made-up boards, and what the program says of them."""

import pytest

from tests.judge.decisions import DECISIONS, Decision


@pytest.mark.parametrize("decision", DECISIONS, ids=lambda decision: decision.name)
def test_the_program_decides_as_a_careful_person_would(decision: Decision) -> None:
    """Verdict and what matters besides are those written down for the board from the rules of the trade."""
    answer = decision.answer()

    assert answer.verdict == decision.verdict, answer.reasons[0].text
    assert decision.holds(answer)


def test_there_are_ten_and_not_all_alike() -> None:
    """The table holds ten boards, and boards to take, to leave and to look at again."""
    assert len(DECISIONS) == 10
    assert {decision.verdict for decision in DECISIONS} == {"pass", "borderline", "fail"}
