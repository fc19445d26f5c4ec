"""Values of options, in the same process: what the words of --gap, --seconds and --output may be."""

from __future__ import annotations

from pathlib import Path

import pytest

from reaccord.cli import numbers
from reaccord.cli import options as opt
from reaccord.findings import UsageError


@pytest.mark.parametrize(
    ("text", "gap"),
    [
        (None, 1e-3),
        ("0.001", 1e-3),
        ("0.1 %", 1e-3),
        ("0.1%", 1e-3),
        ("1 ‰", 1e-3),
        ("1e-3", 1e-3),
        (" 1000 ppm ", 1e-3),
        ("0", 0.0),
        ("0 %", 0.0),
        ("99.9 %", 0.999),
    ],
)
def test_gap_as_a_fraction_or_with_its_sign(text: str | None, gap: float) -> None:
    assert numbers.gap_of(text) == gap


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("abc", '--gap: "abc" is not a number. Write 0.001 or "0.1 %".'),
        ("nan", '--gap: "nan" is not a number. Write 0.001 or "0.1 %".'),
        ("inf", '--gap: "inf" is not a number. Write 0.001 or "0.1 %".'),
        ("", '--gap: "" is not a number. Write 0.001 or "0.1 %".'),
        ("%", '--gap: "%" is not a number. Write 0.001 or "0.1 %".'),
        ("5", "--gap must be from 0 to below 1 (100 %), not 5. A percentage needs its sign."),
        ("1", "--gap must be from 0 to below 1 (100 %), not 1. A percentage needs its sign."),
        ("100 %", "--gap must be from 0 to below 1 (100 %), not 100 %."),
        ("-0.1", "--gap must be from 0 to below 1 (100 %), not -0.1."),
        ("-0.1 %", "--gap must be from 0 to below 1 (100 %), not -0.1 %."),
    ],
)
def test_a_gap_that_is_none(text: str, sentence: str) -> None:
    with pytest.raises(UsageError) as caught:
        numbers.gap_of(text)
    assert str(caught.value) == sentence


def test_seconds() -> None:
    assert numbers.seconds_of(None) == float("inf")
    assert numbers.seconds_of(" 0.5 ") == 0.5
    assert numbers.seconds_of("1e9") == 1e9


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("0", "--seconds must be above 0, not 0."),
        ("-3", "--seconds must be above 0, not -3."),
        ("nan", '--seconds: "nan" is not a number. Write seconds as a plain number, as 60.'),
        ("soon", '--seconds: "soon" is not a number. Write seconds as a plain number, as 60.'),
        ("", '--seconds: "" is not a number. Write seconds as a plain number, as 60.'),
    ],
)
def test_seconds_that_are_none(text: str, sentence: str) -> None:
    with pytest.raises(UsageError) as caught:
        numbers.seconds_of(text)
    assert str(caught.value) == sentence


def test_output_form() -> None:
    assert opt.options().form == "table"
    assert opt.options(output="csv").form == "csv"
    with pytest.raises(UsageError, match='--output takes table, json or csv, not "xml"'):
        opt.options(output="xml")


def test_the_form_of_a_file_is_the_one_asked_for_or_that_of_its_ending() -> None:
    for name, output, form in (("a.Json", None, "json"), ("a.csv.txt", None, "table"), ("a.json", "csv", "csv")):
        options = opt.RESULT.taken(opt.options(output=output, out=Path(name)))
        assert (options.form, options.form_of_file) == (output or "table", form)
    with pytest.raises(UsageError, match=r"--out a\.xlsx: nothing is written as \.xlsx"):
        opt.RESULT.taken(opt.options(out=Path("a.xlsx")))
