"""Bytes into cells: encodings, delimiters, line numbers, and files that are none."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import pytest
from tests.studies import told

from reaccord.findings import Findings
from reaccord.tables import raw
from reaccord.tables.raw import RawTable, decode, read_bytes
from reaccord.tables.separated import parse_text, table_of_bytes


def parsed(text: str, delimiter: str = ",") -> tuple[RawTable | None, list[tuple[str, str]]]:
    findings = Findings()
    return parse_text(text, "t.csv", delimiter, findings), told(findings)


def test_cells_by_heading_with_the_line_they_stand_on() -> None:
    table, findings = parsed('material,note\r\nRose,"a ""fine"" one"\r\n\r\n,,\r\nNeroli,"two\nlines"\r\nLast,\r\n')
    assert findings == []
    assert table is not None
    assert table.headings == ("material", "note")
    assert table.rows == (
        (2, {"material": "Rose", "note": 'a "fine" one'}),
        (5, {"material": "Neroli", "note": "two\nlines"}),
        (7, {"material": "Last", "note": ""}),
    )


def test_blanks_round_cells_go_also_those_that_do_not_break() -> None:
    table, _ = parsed("a,b\n\u00a0x\u00a0, y \n")
    assert table is not None
    assert table.rows == ((2, {"a": "x", "b": "y"}),)


def test_short_rows_are_filled_and_blank_columns_at_the_end_dropped() -> None:
    table, findings = parsed("a,b,c,,\n1\n1,2,3,,\n")
    assert findings == []
    assert table is not None
    assert table.headings == ("a", "b", "c")
    assert table.rows[0][1] == {"a": "1", "b": "", "c": ""}


def test_too_many_cells() -> None:
    table, findings = parsed("a,b\n1,2,5\n3,4\n")
    assert findings == [
        ("too-many-cells", "t.csv, row 2: 3 cells under 2 headings. A cell with a comma in it needs quotes.")
    ]
    assert table is not None
    assert [row["b"] for _, row in table.rows] == ["2", "4"]


@pytest.mark.parametrize("text", ["", "\n\n", " \n,,\n", "\ufeff"])
def test_an_empty_table(text: str) -> None:
    findings = Findings()
    decoded = decode(text.encode(), "t.csv", findings)
    assert decoded is not None
    assert parse_text(decoded, "t.csv", ",", findings) is None
    assert told(findings) == [("empty-table", "t.csv: the table is empty. Its first line must be the headings.")]


def test_headings_without_rows() -> None:
    table, findings = parsed("material,note\n\n")
    assert findings == []  # whether a table may be empty is for whoever knows which it is
    assert table is not None
    assert (table.headings, table.rows) == (("material", "note"), ())


def test_a_blank_heading() -> None:
    assert parsed("material,,note\nx,y,z\n") == (None, [("heading", "t.csv, row 1: heading number 2 is blank.")])


def test_a_blank_heading_over_cells_is_one_finding() -> None:
    findings = [("heading", "t.csv, row 1: heading number 2 is blank, but there are cells under it.")]
    assert parsed("constituent,\ngeraniol,40\nnerol,60\n") == (None, findings)
    findings = [
        ("heading", "t.csv, row 1: every row has more cells than there are headings (1). Give each column one.")
    ]
    assert parsed("constituent\ngeraniol,40\nnerol,60\n") == (None, findings)


def test_headings_that_differ_in_capitals_only() -> None:
    text = '"T" and "t" differ in capitals only. Give one of them another name.'
    assert parsed("constituent,T,t\nx,1,2\n") == (None, [("heading", f"t.csv, row 1, column t: {text}")])


def test_a_heading_that_is_a_whole_file() -> None:
    text = "heading number 2 has 5000 characters. Is this line the headings?"
    assert parsed(f"a,{'b' * 5000}\n1,2\n") == (None, [("heading", f"t.csv, row 1: {text}")])


def test_a_heading_with_a_character_nobody_sees() -> None:
    table, findings = parsed("constituent,G\u200b1\nx,1\n")
    text = "holds a character nobody sees, U+200B (zero width space). Delete it, or type the cell anew."
    assert findings == [("invisible", f"t.csv, row 1: {text}")]
    assert table is not None
    assert table.headings == ("constituent", "G1")


def test_a_heading_twice() -> None:
    findings = [("heading", "t.csv, row 1, column lot: this heading stands twice.")]
    assert parsed("material,lot,lot\nx,y,z\n") == (None, findings)


@pytest.mark.parametrize(
    ("text", "promised", "said"),
    [
        ("material;note\nx;y\n", ",", "semicolons"),
        ('material;note\nx;"y"\n', "\t", "semicolons"),
        ("material;content, %;cas\nx;1,5;\n", ",", "semicolons"),
        ("material\tnote\nx\ty\n", ",", "tabs"),
        ("material,note\nx,y\n", "\t", "commas"),
    ],
)
def test_another_sign_between_the_cells_is_read_and_said(text: str, promised: str, said: str) -> None:
    table, findings = parsed(text, promised)
    assert table is not None
    assert table.headings[0] == "material"
    assert table.rows[0][1]["material"] == "x"
    assert findings == [("taken-as", f"t.csv: the cells are parted by {said}; read so.")]


def test_other_signs_inside_cells_part_nothing() -> None:
    table, findings = parsed('constituent,"mean; ; %"\nx,1\n')
    assert table is not None
    assert (table.headings, findings) == (("constituent", "mean; ; %"), [])
    table, findings = parsed("rule,members\nR,a;b\nS,c;d\n")
    assert table is not None
    assert (table.headings, findings) == (("rule", "members"), [])


def test_a_quote_that_never_closes() -> None:
    table, findings = parsed('a,b\n1,"2\n3,4\n')
    assert table is None
    cure = "Close it, or take it out."
    assert findings == [("csv", f"t.csv, row 2: a quote opens in this row and is not closed by row 3. {cure}")]
    _, findings = parsed('a,b\n1,2\n3,"4\n5,6\n7,"8"\n')
    assert findings == [("csv", f"t.csv, row 3: a quote opens in this row and is not closed by row 5. {cure}")]


def test_a_monstrous_cell() -> None:
    table, findings = parsed(f"a\n{'x' * 200_000}\n")
    assert table is None
    assert findings == [("csv", "t.csv, row 2: not a proper table here: field larger than field limit (131072).")]


def test_utf8_with_and_without_mark() -> None:
    for content in ("Néroli".encode(), "Néroli".encode("utf-8-sig")):
        assert decode(content, "t.csv", Findings()) == "Néroli"


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        ("a\nb\nNéroli".encode("latin-1"), "t.csv, row 3: byte 0xe9 is not UTF-8. Save the file as UTF-8."),
        ("a,b".encode("utf-16"), "t.csv, row 1: byte 0xff is not UTF-8. Save the file as UTF-8."),
        (b"a,b\n\0\n", "t.csv, row 2: a NUL byte: this is not a text table in UTF-8."),
    ],
)
def test_a_wrong_encoding_shows_the_line(content: bytes, sentence: str) -> None:
    findings = Findings()
    assert decode(content, "t.csv", findings) is None
    assert told(findings) == [("encoding", sentence)]


def test_tabs_by_the_ending(tmp_path: Path) -> None:
    (tmp_path / "t.tsv").write_text("a\tb\n1,5\t2\n")
    findings = Findings()
    found = read_bytes(tmp_path / "t.tsv", "t.tsv", findings)
    assert found is not None
    assert found[1].sha256 == hashlib.sha256(b"a\tb\n1,5\t2\n").hexdigest()
    table = table_of_bytes(found[0], "t.tsv", findings)
    assert table is not None
    assert table.rows == ((2, {"a": "1,5", "b": "2"}),)


def refused(path: Path) -> list[tuple[str, str]]:
    findings = Findings()
    assert read_bytes(path, "t.csv", findings) is None
    return told(findings)


def test_a_folder_instead_of_a_file(tmp_path: Path) -> None:
    assert refused(tmp_path) == [("not-a-file", f"t.csv: this is a folder, not a file: {tmp_path}")]


def test_a_missing_file(tmp_path: Path) -> None:
    path = tmp_path / "nowhere" / "t.csv"
    assert refused(path) == [("file-missing", f"t.csv: there is no such file: {path}")]


def test_a_missing_file_says_its_name_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert refused(Path("t.csv")) == [("file-missing", "t.csv: there is no such file.")]


def test_a_huge_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(raw, "LARGEST_FILE", 2**20)
    path = tmp_path / "t.csv"
    path.write_bytes(b"x" * (2**20 + 1))
    sentence = "t.csv: larger than 1 MiB; a table for this is far smaller. Is it the right file?"
    assert refused(path) == [("file-too-large", sentence)]


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="no endless device here")
def test_an_endless_device_is_no_file() -> None:
    sentence = "t.csv: not a regular file, but a pipe or a device: /dev/zero"
    assert refused(Path("/dev/zero")) == [("not-a-file", sentence)]


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="needs a user whom permissions bind")
def test_a_file_one_may_not_read(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_text("a\n1\n")
    path.chmod(0)
    assert refused(path) == [("file-unreadable", f"t.csv: cannot be read (Permission denied): {path}")]


def test_a_name_no_file_can_have(tmp_path: Path) -> None:
    path = tmp_path / ("x" * 300)
    assert refused(path) == [("file-unreadable", f"t.csv: cannot be read (File name too long): {path}")]
    [(code, sentence)] = refused(tmp_path / "a\0b")
    assert code == "file-unreadable"
    assert "null byte" in sentence
