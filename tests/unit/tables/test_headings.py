"""Headings as papers and laboratories print them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from reaccord.domain.lines import Reported
from reaccord.findings import Findings
from reaccord.tables import columns
from reaccord.tables.composition_table import composition_lines
from reaccord.tables.heading_words import WORDS
from reaccord.tables.headings import settle_headings
from reaccord.tables.lines import bottle_lines, constituent_lines, formula_lines, limit_lines
from reaccord.tables.raw import RawTable
from reaccord.tables.separated import parse_text
from reaccord.tables.target_table import target_lines


def table(text: str) -> RawTable:
    raw = parse_text(text, "t.csv", ",", Findings())
    assert raw is not None
    return raw


def test_a_paper_table_is_read_as_it_comes() -> None:
    findings = Findings()
    text = (
        "No.,Compound,CAS No.,RI,Peak area (%)\n"
        "1,linalool,78-70-6,1099,34.2*\n2,camphor,76-22-2,1145,<0.1\n3,borneol,,1165,–\n"
    )
    lines, samples = target_lines(table(text), findings)
    assert samples == ("Peak area (%)",)
    assert [line.name for line in lines] == ["linalool", "camphor", "borneol"]
    assert lines[0].cas == "78-70-6"
    assert not findings.errors
    said = [str(found) for found in findings.warnings]
    assert "t.csv, row 1, column Compound: taken as the column constituent." in said
    aside = 't.csv, row 1, column No.: left out: it holds no share (so too "RI"). If it is a sample, name it in '
    assert f"{aside}target.samples." in said
    mark = "t.csv, row 2, column Peak area (%): taken as the number; the footnote mark behind it left out."
    assert mark in said


def test_compositions_too() -> None:
    findings = Findings()
    lines = composition_lines(table("material,Component,Content (%)\nMint oil,menthol,40\n"), findings)
    assert [(line.part, line.share.number) for line in lines] == [("menthol", 0.4)]
    assert not findings.errors


def test_two_columns_that_could_be_meant_are_an_error() -> None:
    findings = Findings()
    settle_headings(table("Compound,Substance,%\na,b,1\n"), columns.TARGET, WORDS["target"], findings)
    (error,) = findings.errors
    assert str(error) == (
        't.csv, row 1, column Substance: "Compound" and "Substance" could both be the column constituent. '
        "Call one of them constituent."
    )


def test_a_column_by_its_own_name_is_not_looked_for_elsewhere() -> None:
    findings = Findings()
    raw = settle_headings(table("constituent,Name,x\na,b,1\n"), columns.TARGET, WORDS["target"], findings)
    assert raw.headings == ("constituent", "Name", "x")
    assert not list(findings)


@pytest.mark.parametrize(
    ("reader", "text"),
    [
        (bottle_lines, "Material,Price (per kg),STOCK_G,Keeps months\nGeraniol,20,5,12\n"),
        (constituent_lines, "Name,CAS No.,Synonyms,Molecular formula\ngarden ketal,,GK,C12H20O2\n"),
        (formula_lines, "Ingredient,Lot,Weight (g)\nGeraniol,L1,2.5\n"),
        (limit_lines, "Rule,Members,Product,MAX\nR,geraniol,any,1\n"),
    ],
)
def test_usual_headings_of_the_other_tables(reader: Callable[..., Any], text: str) -> None:
    findings = Findings()
    (line,) = reader(table(text), findings)
    assert not findings.errors
    renamed = [found.message for found in findings.warnings]
    assert all(message.startswith("taken as the column ") for message in renamed)
    if reader is bottle_lines:
        assert (line.price_per_kg, line.stock_g, line.keeps_months) == (20, 5, 12)
        assert len(renamed) == 2, "capitals alone are no doubt"
    if reader is constituent_lines:
        assert (line.constituent, line.synonyms, line.formula) == ("garden ketal", ("GK",), "C12H20O2")
    if reader is formula_lines:
        assert (line.material, line.lot, line.grams) == ("Geraniol", "L1", 2.5)
    if reader is limit_lines:
        assert (line.rule, line.most) == ("R", 0.01)


def test_a_band_column_in_capitals_may_have_been_a_sample() -> None:
    findings = Findings()
    (line,), samples = target_lines(table("constituent,G1,Low,High\nlinalool,3,1,5\n"), findings)
    assert samples == ("G1",)
    assert (line.low, line.high) == (Reported(0.01), Reported(0.05))
    assert [found.message for found in findings.warnings] == ["taken as the column low.", "taken as the column high."]


def test_what_the_study_names_as_a_sample_is_one() -> None:
    findings = Findings()
    (line,), samples = target_lines(table("constituent,Low,ID\nlinalool,3,4\n"), findings, ("Low", "ID"))
    assert samples == ("Low", "ID")
    assert dict(line.shares) == {"Low": Reported(0.03), "ID": Reported(0.04)}
    assert not list(findings)
