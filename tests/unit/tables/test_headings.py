"""Headings as papers and laboratories print them."""

from __future__ import annotations

from reaccord.findings import Findings
from reaccord.tables.headings import settle_headings
from reaccord.tables.lines import composition_lines, target_lines
from reaccord.tables.raw import RawTable, parse_text


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
    assert "t.csv, row 1, column RI: left out: it holds no share." in said
    assert 't.csv, row 2, column Peak area (%): taken as 34.2; the mark "*" was left out.' in said


def test_compositions_too() -> None:
    findings = Findings()
    lines = composition_lines(table("material,Component,Content (%)\nMint oil,menthol,40\n"), findings)
    assert [(line.part, line.share.number) for line in lines] == [("menthol", 0.4)]
    assert not findings.errors


def test_two_columns_that_could_be_meant_are_an_error() -> None:
    findings = Findings()
    settle_headings(table("Compound,Substance,%\na,b,1\n"), {"constituent": "constituent"}, findings)
    (error,) = findings.errors
    assert str(error) == (
        't.csv, row 1, column Substance: "Compound" and "Substance" could both be the column constituent. '
        "Call one of them constituent."
    )


def test_a_column_by_its_own_name_is_not_looked_for_elsewhere() -> None:
    findings = Findings()
    raw = settle_headings(table("constituent,Name,x\na,b,1\n"), {"constituent": "constituent"}, findings)
    assert raw.headings == ("constituent", "Name", "x")
    assert not list(findings)
