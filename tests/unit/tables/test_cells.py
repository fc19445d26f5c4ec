"""One cell of text into one value."""

from __future__ import annotations

import datetime

import pytest

from reaccord.names.text import shortened
from reaccord.tables import cells
from reaccord.tables.cells import BadCell


@pytest.mark.parametrize(
    ("text", "value"),
    [("12.5", 12.5), (".5", 0.5), ("5.", 5.0), ("+3", 3.0), ("-2", -2.0), ("\u22122", -2.0), ("1e-3", 0.001), ("0", 0)],
)
def test_numbers(text: str, value: float) -> None:
    assert cells.number(text) == value


@pytest.mark.parametrize(
    "text", ["", "nan", "NaN", "inf", "-Infinity", "1 000", "1.2.3", "0x10", "1_000", "½", "<0.1", "٣", "３"]
)
def test_what_is_no_number(text: str) -> None:
    with pytest.raises(BadCell) as caught:
        cells.number(text)
    assert str(caught.value) == f'"{text}" is not a number.'


@pytest.mark.parametrize(("text", "value"), [("12,5", 12.5), ("-0,30", -0.3), ("0,250", 0.25), ("1250,5", 1250.5)])
def test_a_comma_that_can_only_be_a_decimal_one_is_read(text: str, value: float) -> None:
    assert cells.number(text) == value


@pytest.mark.parametrize(
    ("text", "either"),
    [("1,250", "1.250 or 1250"), ("-12,500", "-12.500 or -12500"), ("1,250,000", "1.250.000 or 1250000")],
)
def test_a_comma_that_may_part_thousands_is_asked_about(text: str, either: str) -> None:
    with pytest.raises(BadCell) as caught:
        cells.number(text)
    assert str(caught.value) == f'"{text}" may be {either}: write which of them, without a comma.'


def test_a_share_with_a_decimal_comma_keeps_its_sign() -> None:
    assert cells.share("12,5 ‰") == 0.0125


@pytest.mark.parametrize("text", ["1e400", "1e300", "-1e-320", "9" * 400, "4.9e-324", "1e-13"])
def test_numbers_out_of_all_measure(text: str) -> None:
    with pytest.raises(BadCell) as caught:
        cells.number(text)
    assert str(caught.value) == f'"{shortened(text)}" is out of all measure.'


@pytest.mark.parametrize(
    ("text", "value"),
    [("10", 0.1), ("10 %", 0.1), ("10%", 0.1), ("5 ‰", 0.005), ("250 ppm", 0.00025), ("0.3", 0.003), ("0", 0.0)],
)
def test_shares_are_fractions_as_written(text: str, value: float) -> None:
    assert cells.share(text) == value  # exactly: 0.3 % is the float nearest to 0.003


def test_a_share_that_needs_its_sign() -> None:
    assert cells.share("0.8 %", sign_needed=True) == 0.008
    with pytest.raises(BadCell) as caught:
        cells.share("0.8", sign_needed=True)
    assert str(caught.value) == '"0.8" needs its sign here: write "0.8 %", or ‰ or ppm.'


def test_a_sign_alone_is_no_share() -> None:
    with pytest.raises(BadCell) as caught:
        cells.share("%")
    assert str(caught.value) == '"%" is not a number.'


@pytest.mark.parametrize(
    ("text", "either"),
    [
        ("005", "5, or 0.05 without its point"),
        ("05", "5, or 0.5 without its point"),
        ("0102", "102, or 0.102 without its point"),
    ],
)
def test_a_point_that_may_be_lost_is_asked_about(text: str, either: str) -> None:
    with pytest.raises(BadCell) as caught:
        cells.share(text)
    assert str(caught.value) == f'"{text}" may be {either}: write which of them.'
    assert cells.share("0") == cells.share("00") == 0


@pytest.mark.parametrize(
    ("text", "cure"),
    [
        ("1:10", "Write 10 % if it is 1 part in 10, 9.09 % if 10 parts came to it."),
        ("1 : 9", "Write 11.1 % if it is 1 part in 9, 10 % if 9 parts came to it."),
        ("50:50", "If it is 50 to 50, write 50 %."),
    ],
)
def test_a_ratio_may_mean_two_strengths(text: str, cure: str) -> None:
    with pytest.raises(BadCell) as caught:
        cells.share(text)
    assert str(caught.value) == f'"{text}" is not a number. {cure}'


def test_dates() -> None:
    assert cells.date("2026-11-25") == datetime.date(2026, 11, 25)
    for text in ("25.11.2026", "11/25/26", "2026-13-01", "2026"):
        with pytest.raises(BadCell) as caught:
            cells.date(text)
        assert str(caught.value) == f'"{text}" is not a date. Write it as 2026-11-25.'


@pytest.mark.parametrize("text", ["2026-11-25", "2026-11", "2026"])
def test_dates_of_editions_may_lack_day_and_month(text: str) -> None:
    assert cells.some_date(text) == text


@pytest.mark.parametrize("text", ["31.02.2026", "13/13/2026", "2026-13", "2026-02-30", "0000", "spring 2026"])
def test_what_is_no_date_of_an_edition(text: str) -> None:
    with pytest.raises(BadCell) as caught:
        cells.some_date(text)
    assert str(caught.value) == f'"{text}" is not a date. Write it as 2026-11-25, 2026-11 or 2026.'


@pytest.mark.parametrize("text", ["01.02.2026", "1/2/2026", "11-12-2026"])
def test_a_date_that_may_be_two_days_is_asked_about(text: str) -> None:
    for reader in (cells.date, cells.some_date):
        with pytest.raises(BadCell) as caught:
            reader(text)
        assert str(caught.value).startswith(
            f'"{text}" may be two days: which number is the month? Write it as 2026-11-25'
        )


def test_a_cell_that_holds_a_file_is_not_repeated_whole() -> None:
    for reader in (cells.number, cells.share, cells.date, cells.some_date, cells.yes_no, cells.whole):
        with pytest.raises(BadCell) as caught:
            reader("5x" * 2500)
        assert len(str(caught.value)) < 120
        assert str(caught.value).startswith('"5x5x5x5x5x5x5x5x5x5x5x5x5x5x5x5x5x5x5..." ')


def test_yes_and_no() -> None:
    assert cells.yes_no("Yes") is True
    assert cells.yes_no("no") is False
    with pytest.raises(BadCell) as caught:
        cells.yes_no("x")
    assert str(caught.value) == '"x" is neither yes nor no.'


def test_whole_numbers() -> None:
    assert cells.whole("2") == cells.whole("2.0") == 2
    with pytest.raises(BadCell) as caught:
        cells.whole("1.5")
    assert str(caught.value) == '"1.5" is not a whole number.'


def test_lists_drop_blanks() -> None:
    assert cells.several("neral; geranial;; ") == ("neral", "geranial")
    assert cells.several(" ; ") == ()
