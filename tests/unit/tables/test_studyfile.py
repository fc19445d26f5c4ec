"""The study file: sections, keys, values, and every way to get them wrong."""

from __future__ import annotations

import datetime
from typing import Any

import pytest
from tests.studies import texts, told

from reaccord.domain.settings import (
    AmountSettings,
    BalanceSettings,
    BatchSettings,
    DilutionSettings,
    FitSettings,
    Settings,
    ShelfSettings,
    TargetSettings,
)
from reaccord.findings import Findings
from reaccord.tables.studyfile import parse_study

FULL = """
title = "Garden geranium"
date = 2026-11-25

[target]
table = "target.csv"
samples = ["G7"]
combine = "band"
basis = "fid-area"
rest = "open"

[shelf]
bottles = "bottles.csv"
compositions = "compositions.csv"
constituents = "constituents.csv"
overdue = "exclude"

[batch]
accord_g = 10
carrier_max_g = 15

[balance]
readability_g = 0.001
minimum_g = 0.02
tolerance = "1 %"
repeatability_g = 0.0005

[dilutions]
strengths = ["10 %", "5 ‰"]
carrier = "dipropylene glycol"

[limits]
cost_per_kg = 140
lines = 14
undeclared = "10 %"
exclude = ["Citronella oil"]
table = "limits.csv"
product = "hand soap"
dosage = "0.8 %"
use = "rinse-off"

[[limits.amount]]
material = "Geranium base"
at_least_g = 1
at_most_g = 2

[fit]
measure = "worst"
scale = "relative"
floor = "500 ppm"
foreign_floor = "4 %"
"""


def parsed(text: str) -> tuple[Settings | None, list[tuple[str, str]]]:
    findings = Findings()
    return parse_study(text, "study.toml", findings), told(findings)


def with_keys(**sections: Any) -> list[tuple[str, str]]:
    return parsed(texts(settings=sections)["study.toml"])[1]


def test_every_key() -> None:
    settings, findings = parsed(FULL)
    assert findings == []
    assert settings is not None
    assert (settings.title, settings.date) == ("Garden geranium", datetime.date(2026, 11, 25))
    assert settings.target == TargetSettings("target.csv", ("G7",), "band", "fid-area", "open")
    assert settings.shelf == ShelfSettings("bottles.csv", "compositions.csv", "constituents.csv", "exclude")
    assert settings.batch == BatchSettings(10, 15)
    assert settings.balance == BalanceSettings(0.001, 0.02, 0.01, 0.0005)
    assert settings.dilutions == DilutionSettings((0.1, 0.005), "dipropylene glycol")
    limits = settings.limits
    assert (limits.cost_per_kg, limits.lines, limits.undeclared, limits.dosage) == (140, 14, 0.1, 0.008)
    assert (limits.exclude, limits.table, limits.product) == (("Citronella oil",), "limits.csv", "hand soap")
    assert limits.use == "rinse-off"
    assert limits.amounts == (AmountSettings("Geranium base", 1, 2),)
    assert settings.fit == FitSettings("worst", "relative", 0.0005, 0.04)


def test_defaults() -> None:
    settings, findings = parsed('[target]\ntable = "t.csv"\n[shelf]\nbottles = "b.csv"\n[batch]\naccord_g = 1\n')
    assert findings == []
    assert settings is not None
    assert settings.date == datetime.date.today()
    assert settings.target == TargetSettings("t.csv", (), "mean", "mass", "close")
    assert settings.fit == FitSettings("squares", "proportional", 0.001, 0.05)
    assert (settings.balance, settings.dilutions, settings.shelf.overdue) == (None, None, "keep")


NEEDED = '[shelf]\nbottles = "b.csv"\n[batch]\naccord_g = 1\n'


@pytest.mark.parametrize(
    "text",
    [
        FULL,
        FULL.replace("\n", "\r\n"),
        f'title = """\n[target]\n"""\n[target]\ntable = "t.csv"\n{NEEDED}',
        f"title = '''\n[fit]\n'''\n[target]\ntable = 't.csv'\n{NEEDED}",
        f'[target]\ntable = "t.csv"\nsamples = [\n"G1",\n"G2",\n]\n{NEEDED}',
        f'[target] # of garden geranium\ntable = "t.csv"\n{NEEDED}[limits]\nlines = 3\n',
        f'[[limits.amount]]\nmaterial = "A"\nat_least_g = 1\n[target]\ntable = "t.csv"\n{NEEDED}[limits]\nlines = 3\n',
        f'target.table = "t.csv"\n{NEEDED}',
    ],
)
def test_sections_read_apart_say_what_the_whole_file_says(text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    apart, findings = parsed(text)
    assert findings == []
    monkeypatch.setattr("reaccord.tables.studyfile._apart", lambda _: None)
    assert parsed(text) == (apart, [])


@pytest.mark.parametrize("again", ["[target]\ntable = 't.csv'\n", "[batch]\naccord_g = 1\n"])
def test_a_section_that_stands_twice_is_no_toml(again: str) -> None:
    settings, [(code, _)] = parsed(f"[target]\ntable = 't.csv'\n{NEEDED}{again}")
    assert (settings, code) == (None, "toml")


def test_a_section_that_two_studies_have_is_one() -> None:
    one, two = (parsed(f"[target]\ntable = '{name}.csv'\n{NEEDED}")[0] for name in "ab")
    assert one is not None
    assert two is not None
    assert one.shelf is two.shelf
    assert (one.target.table, two.target.table) == ("a.csv", "b.csv")


def test_what_is_not_toml() -> None:
    _, [(code, sentence)] = parsed("title = \n")
    assert code == "toml"
    assert sentence.startswith("study.toml: not proper TOML: ")
    assert "wanted here" not in sentence


def test_a_table_in_its_place_is_told_from_it() -> None:
    findings = Findings()
    assert parse_study("No.,Compound", "target.csv", findings) is None
    assert findings.errors[0].message.endswith("A study file is wanted here, as study.toml.")


@pytest.mark.parametrize("text", ["a = " + "[" * 5000, f"a = {'1' * 5000}", "a = 1\na = 2", "\x01"])
def test_toml_that_would_choke_a_parser(text: str) -> None:
    settings, findings = parsed(text)
    assert settings is None
    assert [code for code, _ in findings] == ["toml"]


def test_missing_sections_and_keys() -> None:
    assert parsed('title = "x"\n')[1] == [
        ("missing-key", "study.toml, target: the section [target] is missing."),
        ("missing-key", "study.toml, shelf: the section [shelf] is missing."),
        ("missing-key", "study.toml, batch: the section [batch] is missing."),
    ]
    assert with_keys(batch={"accord_g": None}) == [
        ("missing-key", "study.toml, batch.accord_g: missing; mass of the target's own constituents is needed.")
    ]


def test_a_misspelt_key_is_not_missing_as_well() -> None:
    assert with_keys(batch={"accord_g": None, "acord_g": 4}) == [
        ("unknown-key", 'study.toml, batch.acord_g: no such key is known. Did you mean "accord_g"?')
    ]
    assert parsed('[targt]\ntable = "t.csv"\n[shelf]\nbottles = "b.csv"\n[batch]\naccord_g = 1\n')[1] == [
        ("unknown-key", 'study.toml, targt: no such section is known. Did you mean "target"?')
    ]


def test_unknown_names_give_the_nearest() -> None:
    assert with_keys(tarrget={"table": "x"}, target={"sampels": ["G1"]}, nonsense=3) == [
        ("unknown-key", "study.toml, nonsense: no such key is known."),
        ("unknown-key", 'study.toml, target.sampels: no such key is known. Did you mean "samples"?'),
        ("unknown-key", 'study.toml, tarrget: no such section is known. Did you mean "target"?'),
    ]


@pytest.mark.parametrize(
    ("section", "key", "value", "sentence"),
    [
        ("batch", "accord_g", 0, "0 must be above 0."),
        ("batch", "accord_g", -5, "-5 must be above 0."),
        ("batch", "accord_g", "10", "a number is needed here, without quotes."),
        ("batch", "accord_g", True, "a number is needed here, without quotes."),
        ("batch", "accord_g", 1e8, "1e+08 is over 1e+07."),
        ("batch", "accord_g", 10**400, "a number that long is over 1e+07."),
        ("batch", "carrier_max_g", -1, "-1 is below 0."),
        ("balance", "readability_g", 0, "0 must be above 0."),
        ("balance", "readability_g", -0.01, "-0.01 must be above 0."),
        ("balance", "tolerance", 1, 'a share needs its sign: write "1 %", or ‰ or ppm, in quotes.'),
        ("balance", "tolerance", "1", '"1" needs its sign here: write "1 %", or ‰ or ppm.'),
        ("balance", "tolerance", "0 %", "0 % must be above 0 %."),
        ("balance", "tolerance", "101 %", "101 % is over 100 %."),
        ("balance", "minimum_g", 0, "0 must be above 0."),
        ("dilutions", "strengths", ["0 %"], "0 % must be above 0 %."),
        ("dilutions", "strengths", ["10 %", "100 %"], "100 % must be below 100 %."),
        ("dilutions", "strengths", [0.1], 'a share needs its sign: write "0.1 %", or ‰ or ppm, in quotes.'),
        ("dilutions", "strengths", "10 %", 'a list is needed here, as ["...", "..."].'),
        ("dilutions", "strengths", [], "the list is empty: name at least one, or take its whole section out."),
        ("limits", "lines", 0, "0 is below 1."),
        ("limits", "lines", 2.5, "a whole number is needed here."),
        ("limits", "dosage", "1,800 %", '"1,800 %" may be 1.800 or 1800: write which of them, without a comma.'),
        ("batch", "accord_g", 1e-300, "1e-300 is out of all measure."),
        ("batch", "accord_g", 1e-9, "1e-09 is below 1e-07."),
        ("balance", "readability_g", 4.9e-324, "4.94066e-324 is out of all measure."),
        ("limits", "cost_per_kg", 1e-200, "1e-200 is out of all measure."),
        ("limits", "dosage", "NaN %", '"NaN %" is not a number.'),
        ("limits", "cost_per_kg", -1, "-1 is below 0."),
        ("limits", "exclude", "Rose", 'a list is needed here, as ["...", "..."].'),
        ("limits", "exclude", [3], "text in quotes is needed here."),
        ("limits", "exclude", [" "], "text in quotes is needed here."),
        ("limits", "amount", 3, "write it as [[limits.amount]], one for each material."),
        ("target", "table", 3, "text in quotes is needed here."),
        ("target", "combine", "median", '"median" is none of mean, band. Did you mean "mean"?'),
        ("target", "rest", 1, '"1" is none of close, open.'),
        ("fit", "measure", "square", '"square" is none of squares, absolute, worst. Did you mean "squares"?'),
        ("fit", "floor", "0 %", "0 % must be above 0 %."),
    ],
)
def test_values_that_cannot_be(section: str, key: str, value: Any, sentence: str) -> None:
    needed: dict[str, Any] = {
        "balance": {"readability_g": 0.01},
        "dilutions": {"strengths": ["10 %"], "carrier": "DPG"},
    }
    keys = {**needed.get(section, {}), key: value}
    assert with_keys(**{section: keys}) == [("bad-value", f"study.toml, {section}.{key}: {sentence}")]


@pytest.mark.parametrize("number", ["nan", "inf", "-inf"])
def test_no_nan_and_no_infinity(number: str) -> None:
    text = texts()["study.toml"].replace("accord_g = 10", f"accord_g = {number}")
    assert parsed(text)[1] == [("bad-value", f"study.toml, batch.accord_g: {number} is not a finite number.")]


@pytest.mark.parametrize(
    ("date", "finding"),
    [
        ('"2026-11-25"', None),
        ('"25.11.2026"', '"25.11.2026" is not a date. Write it as 2026-11-25.'),
        ("2026-11-25T10:00:00", '"2026-11-25 10:00:00" is not a date. Write it as 2026-11-25.'),
        ("20261125.5", '"20261125.5" is not a date. Write it as 2026-11-25.'),
    ],
)
def test_dates(date: str, finding: str | None) -> None:
    text = texts()["study.toml"].replace('"2026-11-25"', date)
    wanted = [] if finding is None else [("bad-value", f"study.toml, date: {finding}")]
    assert parsed(text)[1] == wanted


@pytest.mark.parametrize(
    ("amount", "finding"),
    [
        (
            {"material": "A"},
            ("missing-key", "study.toml, limits.amount[1]: how much? Give at_least_g, at_most_g or exactly_g."),
        ),
        (
            {"material": "A", "exactly_g": 1, "at_most_g": 2},
            ("bad-value", "study.toml, limits.amount[1]: exactly_g stands alone."),
        ),
        (
            {"material": "A", "at_least_g": 3, "at_most_g": 2},
            ("bad-value", "study.toml, limits.amount[1]: at_least_g is above at_most_g."),
        ),
        (
            {"material": "A", "at_least": 3, "at_most_g": 2},
            (
                "unknown-key",
                'study.toml, limits.amount[1].at_least: no such key is known. Did you mean "at_least_g"?',
            ),
        ),
        (
            {"at_least_g": 3, "at_most_g": 4},
            ("missing-key", "study.toml, limits.amount[1].material: missing; which material is needed."),
        ),
        (
            {"material": "A", "at_most_g": -1},
            ("bad-value", "study.toml, limits.amount[1].at_most_g: -1 is below 0."),
        ),
    ],
)
def test_named_amounts(amount: dict[str, Any], finding: tuple[str, str]) -> None:
    assert with_keys(limits={"amount": [amount]}) == [finding]


def test_everything_wrong_is_told_at_once() -> None:
    codes = [
        code
        for code, _ in with_keys(
            batch={"accord_g": 0}, balance={"readability_g": 0}, fit={"measure": "x", "floor": 1}, wrong={}
        )
    ]
    assert sorted(codes) == ["bad-value"] * 4 + ["unknown-key"]
