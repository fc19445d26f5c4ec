"""Serving orders are balanced, codes stand once, and answers count as the key says."""

from __future__ import annotations

from collections import Counter

import pytest

from reaccord.balance.discrimination import Rule, Test
from reaccord.balance.serving import ORDERS, read_key, scored, served
from reaccord.domain.lines import AnswerLine, KeyLine
from reaccord.findings import Findings, Place, UsageError

SAMPLES = ("accord", "reference")


def key_lines(vials: dict[str, dict[str, str]]) -> list[KeyLine]:
    return [
        KeyLine(Place("key.csv", row), who, place + 1, code, sample)
        for row, (who, codes) in enumerate(vials.items(), 2)
        for place, (code, sample) in enumerate(codes.items())
    ]


@pytest.mark.parametrize("test", ["triangle", "paired"])
def test_orders_are_balanced_for_every_multiple(test: Test) -> None:
    of = len(ORDERS[test])
    for rounds in range(1, 900 // (of * len(ORDERS[test][0])) + 1):
        vials = served(test, SAMPLES, rounds * of, seed=rounds)
        orders = Counter(each.samples for each in vials)
        assert len(orders) == of
        assert set(orders.values()) == {rounds}
        codes = [code for each in vials for code in each.codes]
        assert len(set(codes)) == len(codes)
        assert all(100 <= int(code) <= 999 for code in codes)


def test_who_has_not_answered_is_named() -> None:
    """A row left blank and a row that is not there are the same."""
    key = {who: {"101": "accord", "102": "reference"} for who in ("1", "2", "3")}
    findings = Findings()
    found = scored(key, [AnswerLine(Place("answers.csv", 2), "2", "101")], Rule("paired"), "accord", findings)
    assert found is not None
    assert (found.n, found.right) == (1, 1)
    assert [str(f.message) for f in findings.warnings] == [
        "no answer of assessor 1, 3: not counted. The test asks for a choice, even a guess."
    ]


def test_the_rest_of_a_round_differs_by_one_at_most() -> None:
    orders = Counter(each.samples for each in served("triangle", SAMPLES, 10, seed=1))
    assert sorted(orders.values()) == [1, 1, 2, 2, 2, 2]


def test_a_seed_gives_the_same_codes_and_none_others() -> None:
    assert served("triangle", SAMPLES, 6, 7) == served("triangle", SAMPLES, 6, 7)
    assert served("triangle", SAMPLES, 6, 7) != served("triangle", SAMPLES, 6, 8)
    assert served("triangle", SAMPLES, 6, None) != served("triangle", SAMPLES, 6, None)


def test_more_vials_than_codes_are_refused() -> None:
    assert len(served("triangle", SAMPLES, 300, 1)) == 300
    with pytest.raises(UsageError, match="300 at most"):
        served("triangle", SAMPLES, 301, 1)


def test_answers_are_scored_by_the_key() -> None:
    vials = {"1": {"111": "a", "112": "b", "113": "b"}, "2": {"121": "a", "122": "a", "123": "b"}}
    findings = Findings()
    key = read_key(key_lines(vials), findings)
    given = [AnswerLine(Place("s.csv", 2), "1", "111"), AnswerLine(Place("s.csv", 3), "2", "121")]
    found = scored(key, given, Rule("triangle"), "", findings)
    assert found is not None
    assert (found.n, found.right, found.proven, findings.errors) == (2, 1, False, ())


def test_a_pair_counts_who_was_chosen_and_either_may_win() -> None:
    vials = {str(n): {f"{n}1": "a", f"{n}2": "b"} for n in range(10, 22)}
    key = read_key(key_lines(vials), Findings())
    given = [AnswerLine(Place("s.csv", 2), who, f"{who}2") for who in vials]
    open_test = scored(key, given, Rule("paired", two_sided=True), "", Findings())
    assert open_test is not None
    assert (open_test.chosen, open_test.proven) == ({"b": 12}, True)
    assert open_test.probability == pytest.approx(2 / 2**12)
    wrong_way = scored(key, given, Rule("paired"), "a", Findings())
    assert wrong_way is not None
    assert (wrong_way.right, wrong_way.proven, wrong_way.probability) == (0, False, 1.0)
    with pytest.raises(UsageError, match="a or b"):
        scored(key, given, Rule("paired"), "c", Findings())


def test_answers_that_do_not_belong_to_the_key_are_told_each() -> None:
    key = read_key(key_lines({"1": {"111": "a", "112": "b"}, "2": {"121": "a", "122": "b"}}), Findings())
    findings = Findings()
    given = [("1", "111"), ("1", "112"), ("2", "111"), ("9", "121")]
    lines = [AnswerLine(Place("s.csv", row), *pair) for row, pair in enumerate(given, 2)]
    assert scored(key, lines, Rule("paired"), "a", findings) is None
    assert [(error.code, error.place.row) for error in findings.errors] == [
        ("twice", 3),
        ("no-code", 4),
        ("no-assessor", 5),
    ]


def test_a_key_that_can_be_none_is_refused() -> None:
    for vials, code in (
        ({"1": {"111": "a", "112": "b", "113": "c"}}, "two-samples"),
        ({"1": {"111": "a", "112": "b"}, "2": {"121": "a", "122": "b", "123": "b"}}, "no-key"),
        ({"1": {"111": "a", "112": "b"}, "2": {"111": "a", "122": "b"}}, "twice"),
    ):
        findings = Findings()
        read_key(key_lines(vials), findings)
        assert code in [error.code for error in findings.errors]
