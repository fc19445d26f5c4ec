"""What an analysis prints in place of a plain number."""

from __future__ import annotations

import pytest

from reaccord.domain.lines import Reported
from reaccord.findings import Findings, Place
from reaccord.tables.cells import BadCell
from reaccord.tables.tokens import reported, say_taken


@pytest.mark.parametrize("text", ["tr", "TR", "tr.", "t", "Trace", "traces", "(tr)"])
def test_a_trace_is_a_quarter_per_mille_and_at_most_half(text: str) -> None:
    assert reported(text) == Reported(0.00025, "tr")  # as the manual's page on tables says: 0.025 %, high 0.05 %
    assert reported(text).high == 0.0005


@pytest.mark.parametrize("text", ["nd", "ND", "n.d.", "-", "–", "—", "−", "not detected"])
def test_not_detected(text: str) -> None:
    assert reported(text) == Reported(0.0, "nd")
    assert reported(text).high == 0.0


def test_a_reported_number() -> None:
    assert reported("12.5") == Reported(0.125)
    assert reported("12.5").taken == ""


@pytest.mark.parametrize("text", ["<0.1", "< 0.1", "≤0.1", "<0.1 %", "< 1 ‰"])
def test_below_a_limit_of_quantification(text: str) -> None:
    assert reported(text) == Reported(0.0005, "tr", 0.001)
    assert reported(text).high == 0.001
    assert reported(text).taken.startswith("anything from 0 to ")


@pytest.mark.parametrize(
    ("text", "mark"),
    [
        ("12.5*", "*"), ("12.5 a", "a"), ("12.5a,b", "a,b"), ("12.5 [3]", "[3]"), ("12.5²", "²"), ("12.5 †", "†"),
        ("12.5ab", "ab"), ("12.5 fg", "fg"), ("12.5¹,²", "¹,²"), ("12.5^a,b", "^a,b"), ("12.5 a, b", "a, b"),
    ],
)  # fmt: skip
def test_footnote_marks_are_left_out_and_said(text: str, mark: str) -> None:
    assert reported(text) == Reported(0.125)
    assert mark
    assert reported(text).taken == "the number; the footnote mark behind it left out"


def test_a_spread_is_left_out_and_said() -> None:
    assert reported("12.5 ± 0.3") == Reported(0.125)
    assert reported("12.5 ± 0.3").taken == "the number; the deviation behind it is not used"
    assert reported("4.2 (0.1)") == reported("4.2 (± 0.1)") == Reported(0.042)
    assert reported("4.2 (0.1)").taken == reported("12.5 ± 0.3").taken


@pytest.mark.parametrize(("text", "mark"), [("12.5 ± 0.1a", "a"), ("12.5 ± 1.2*", "*"), ("12.5±0.1 ab", "ab")])
def test_a_spread_with_a_mark_behind(text: str, mark: str) -> None:
    assert reported(text) == Reported(0.125)
    said = "the number; the deviation behind it is not used; the footnote mark behind it left out"
    assert mark
    assert reported(text).taken == said


@pytest.mark.parametrize("text", ["trace (<0.05)", "tr (< 0.05 %)", "tr. [≤0.05]", "traces <0.05"])
def test_a_trace_that_says_its_most(text: str) -> None:
    assert reported(text) == Reported(0.00025, "tr", 0.0005)
    assert reported(text).taken.startswith("anything from 0 to 0.05")


def test_marks_behind_what_is_no_number() -> None:
    assert reported("<0.05*") == Reported(0.00025, "tr", 0.0005)
    assert (
        reported("<0.05*").taken
        == "anything from 0 to 0.05, typically half of it; the footnote mark behind it left out"
    )
    assert reported("tr*") == Reported(0.00025, "tr")
    assert reported("tr*").taken == "a trace; the footnote mark behind it left out"
    for text in ("tr g", "t a", "tr b"):
        assert reported(text) == Reported(0.00025, "tr")
    for text in ("- a", "—c", "–b", "nd *"):
        assert reported(text) == Reported(0.0, "nd")
    assert reported("22.26a§") == Reported(0.2226)
    assert reported("–ᵃ") == Reported(0.0, "nd")


@pytest.mark.parametrize("text", ["10^2", "12.5 mg", "tra", "12.5 xyz", "12.5 ± 0.1 0.2", "12,5*"])
def test_what_is_no_mark(text: str) -> None:
    with pytest.raises(BadCell):
        reported(text)


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("0.2-0.5", 0.002, 0.005), ("0.2 – 0.5", 0.002, 0.005), ("0.2 to 0.5", 0.002, 0.005), ("15–35 %", 0.15, 0.35),
        ("> 95 %", 0.95, 1.0), ("≥95", 0.95, 1.0), ("min. 95", 0.95, 1.0), ("up to 9", 0.0, 0.09),
        ("max. 6", 0.0, 0.06),
    ],
)  # fmt: skip
def test_a_range_is_low_and_high_and_typically_its_middle(text: str, low: float, high: float) -> None:
    found = reported(text)
    assert (found.low, found.high, found.number) == pytest.approx((low, high, (low + high) / 2))
    assert found.ranges
    assert "typically" in found.taken


def test_a_range_the_wrong_way_round() -> None:
    with pytest.raises(BadCell) as caught:
        reported("35-15")
    assert str(caught.value) == '"35-15" is a range whose low end is above the high one.'


def test_about_a_number_is_the_number() -> None:
    assert reported("~3") == reported("ca. 3") == Reported(0.03)
    assert reported("~3").taken == 'the number, though it says "about"'


@pytest.mark.parametrize("text", ["0.2 0.5", "0.2/0.5", "0.2; 0.5", "0.2 0.5 0.9"])
def test_two_values_in_one_cell_are_refused_with_a_cure(text: str) -> None:
    with pytest.raises(BadCell) as caught:
        reported(text)
    assert str(caught.value) == f'"{text}" holds two values in one cell. Give each a column of its own.'


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("much", '"much" is not a number. A trace is written tr, not detected nd.'),
        ("1,250", '"1,250" may be 1.250 or 1250: write which of them, without a comma.'),
        ("1.2.3", '"1.2.3" is not a number.'),
        ("NaN", '"NaN" is not a number.'),
        ("inf", '"inf" is not a number.'),
        ("1e400", '"1e400" is out of all measure.'),
        ("12.5 g", '"12.5 g" is a mass, not a share. Write percent by mass.'),
        ("9" * 5000, '"9999999999999999999999999999999999999..." is out of all measure.'),
    ],
)
def test_what_no_analysis_prints(text: str, sentence: str) -> None:
    with pytest.raises(BadCell) as caught:
        reported(text)
    assert str(caught.value) == sentence


def test_tokens_are_said_once_for_each_column_and_meaning() -> None:
    findings = Findings()
    cells = [
        (Place("t.csv", row), "G7", reported(text)) for row, text in enumerate(["-", "–", "1.0", "n.d.", "<0.1"], 2)
    ]
    say_taken(cells, findings)
    assert [str(found) for found in findings.warnings] == [
        "t.csv, row 2, column G7: taken as not detected (so too in 2 more rows).",
        "t.csv, row 6, column G7: taken as anything from 0 to 0.1, typically half of it.",
    ]
