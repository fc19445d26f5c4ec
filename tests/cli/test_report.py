"""`report`: a page that stands by itself, a workbook that reads back, what it refuses."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from html.parser import HTMLParser
from pathlib import Path

import pytest
from openpyxl import load_workbook
from tests.cli.process import EXAMPLE, reaccord
from tests.docs.shown import called

from reaccord.findings import UsageError

STUDY, FORMULA = EXAMPLE / "study.toml", EXAMPLE / "formula_2025.csv"
ALL = ("curve", "sheet", "dosage", "spread")


class Read(HTMLParser):
    """What a page is made of: its tags with their attributes, its text, its headings."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []
        self.headings: list[str] = []
        self._inside = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        self._inside = tag

    def handle_endtag(self, tag: str) -> None:
        self._inside = ""

    def handle_data(self, data: str) -> None:
        self.text.append(data)
        if self._inside == "h2":
            self.headings.append(data)


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page and the workbook of the example's formula."""
    folder = tmp_path_factory.mktemp("report")
    for name in ("page.html", "result.xlsx"):
        words = ("--formula", FORMULA, "--with", "all", "--out", folder / name, "--quiet")
        ended = reaccord("report", STUDY, *words)
        assert ended.code == 0, ended.err
        assert ended.out.startswith("Garden geranium, lot G7: ")
    return folder


def test_the_page_stands_by_itself(written: Path) -> None:
    text = (written / "page.html").read_text(encoding="utf-8")
    page = Read(text)
    assert not [tag for tag, _ in page.tags if tag in {"link", "img", "iframe", "object", "embed"}]
    loaded = [value for _, marks in page.tags for name, value in marks.items() if name in {"src", "href", "action"}]
    assert loaded == []
    assert not re.search(r"https?:|@import|url\(", text)
    assert [heading for heading in page.headings if heading != "Make first"] == [
        *("What to pour", "What is off", "Limits", "Closeness and its price", "Where each constituent comes from"),
        *("From year to year", "Sheet for the bench", "Weigh", "Smell side by side", "Restricted substances"),
    ]
    assert "Calculated, not analysed" in text


def test_every_row_of_the_page_is_what_compare_says(written: Path) -> None:
    data = reaccord("compare", STUDY, FORMULA, "--output", "json").json["data"]
    text = " ".join(Read((written / "page.html").read_text(encoding="utf-8")).text)
    for line in data["formula"]:
        assert line["material"] in text
    for row in data["residuals"]:
        if row["kind"] == "named":
            assert row["constituent"] in text
    for limit in data["limits"]:
        assert limit["label"] in text


def test_the_workbook_reads_back_as_the_formula(written: Path) -> None:
    ended = reaccord("compare", STUDY, f"{written / 'result.xlsx'}#formula", FORMULA, "--output", "json")
    mine, given = (
        {(x["material"], x["strength"], x["lot"]): x["grams"] for x in each["formula"]}
        for each in ended.json["data"]["formulas"]
    )
    assert mine == given


def test_the_workbook_has_the_same_tables_with_formats(written: Path) -> None:
    book = load_workbook(written / "result.xlsx")
    assert {"verdict", "formula", "off target", "limits", "weigh", "spread", "label", "inputs"} <= set(book.sheetnames)
    off = book["off target"]
    heads = [cell.value for cell in off[1]]
    assert heads[:2] == ["constituent", "kind"]
    assert off.freeze_panes == "A2"
    assert all("%" in row[heads.index("got, % of accord")].number_format for row in off.iter_rows(min_row=2))
    named = [sheet for sheet in book.worksheets if sheet.title not in {"verdict", "inputs"}]
    assert all(sheet.freeze_panes == "A2" for sheet in named)
    figures = [cell for sheet in named for row in sheet.iter_rows(min_row=2) for cell in row if cell.data_type == "n"]
    assert not [cell for cell in figures if isinstance(cell.value, float) and cell.number_format == "General"]
    unit = {row[0].value: (row[2].number_format, row[4].value) for row in book["limits"].iter_rows(min_row=2)}
    assert (unit["cost"], unit["undeclared"]) == (("0.00##", "per kg"), ("0.00####%", "%"))
    weigh = book["weigh"]
    assert str(weigh.cell(2, weigh.max_column).value).startswith("=SUM(")


def test_the_workbook_itself_is_a_formula_and_never_written_over(study: Path, tmp_path: Path) -> None:
    """Without the name of a sheet `formula` is read, by whatever takes a formula; none replaces it."""
    book = tmp_path / "result.xlsx"
    page = reaccord("report", study, "--formula", study.parent / "formula_2025.csv", "--out", book, "--output", "json")
    assert page.json["data"]["sections"] == ["sheet"], "a workbook has what the bench needs, asked for or not"
    before = book.read_bytes()
    with pytest.raises(UsageError, match="is an input of this study"):
        called(f"reaccord report {study} --formula {book}#weigh --out {book} --quiet")
    for line in (f"compare {study} {book}#weigh", f"dosage {study} --formula {book}"):
        assert called(f"reaccord {line} --quiet").data["title"] == "Garden geranium, lot G7", line
    assert book.read_bytes() == before


def test_names_are_text_and_never_markup_or_formulas(study: Path) -> None:
    bottles, formula = study.parent / "bottles.csv", study.parent / "formula_2025.csv"
    hostile = "@SUM(1) <script>alert(1)</script>"
    for table in (bottles, study.parent / "compositions.csv", formula):
        table.write_text(table.read_text(encoding="utf-8").replace("Rose esters", hostile), encoding="utf-8")
    page, book = study.parent / "page.html", study.parent / "result.xlsx"
    for out in (page, book):
        ended = reaccord("report", study, "--formula", formula, "--out", out, "--quiet", "--with", "sheet")
        assert ended.code == 0, ended.err
    text = page.read_text(encoding="utf-8")
    assert "@SUM(1) &lt;script&gt;alert(1)&lt;/script&gt;" in text
    assert text.count("<script>") == 1  # the page's own
    for sheet in load_workbook(book).worksheets:
        for cell in (cell for row in sheet.iter_rows() for cell in row):
            assert cell.data_type != "f" or str(cell.value).startswith("=SUM("), cell.value
    with zipfile.ZipFile(io.BytesIO(book.read_bytes())) as packed:
        assert not any("externalLink" in name for name in packed.namelist())


def test_of_a_fit_it_says_how_sure_it_is(tmp_path: Path) -> None:
    page = tmp_path / "citrus.html"
    ended = reaccord("report", EXAMPLE.parent / "citrus" / "study.toml", "--out", page, "--output", "json", "--quiet")
    found = ended.json
    assert (found["status"], found["data"]["sections"]) == ("proven", [])
    text = " ".join(Read(page.read_text(encoding="utf-8")).text)
    assert found["data"]["verdict"] in text
    assert "proven" in text
    assert "at best" in text


def test_csv_is_the_file_and_what_is_said_of_it(tmp_path: Path) -> None:
    page = tmp_path / "a, b.html"
    ended = reaccord("report", STUDY, "--formula", FORMULA, "--out", page, "--output", "csv", "--quiet")
    (row,) = csv.DictReader(ended.out.splitlines())
    assert row["file"] == str(page)
    assert "this formula" in row["verdict"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "--out FILE is needed"),
        (("--out", "page.pdf"), "nothing is written as .pdf"),
        (("--out", "page.html", "--with", "poem"), '--with takes curve, spread, sheet, dosage or all, not "poem"'),
        (("--out", "none/page.html"), "there is no folder"),
    ],
)
def test_what_it_refuses(words: tuple[str, ...], said: str, tmp_path: Path) -> None:
    given = [tmp_path / word if "page" in word else word for word in words]
    ended = reaccord("report", STUDY, *given)
    assert ended.code == 2
    assert said in ended.err
    assert not list(tmp_path.iterdir())
