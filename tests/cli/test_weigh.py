"""`weigh`: the sheet as text, JSON, CSV, page and workbook; what it refuses."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path

import openpyxl
import pytest
from tests.cli.process import EXAMPLE, reaccord

STUDY, FORMULA = EXAMPLE / "study.toml", EXAMPLE / "formula_2025.csv"
AGREED = (STUDY, "--formula", FORMULA)
NASTY = "+cmd<script>alert(1)</script>"


def test_json_has_the_keys_of_the_interface_and_adds_up() -> None:
    ended = reaccord("weigh", STUDY, "--quiet", "--output", "json")
    data = ended.json["data"]
    assert ended.code == 0
    lines, smallest = data["lines"], data["smallest_accord_g"]
    keys = {
        "order",
        "material",
        "strength",
        "carrier",
        "lot",
        "grams",
        "running_g",
        "parts_per_thousand",
        "tolerance_g",
    }
    assert all(keys <= set(line) for line in lines)
    assert lines[-1]["running_g"] == pytest.approx(sum(line["grams"] for line in lines)) == data["total_g"]
    assert sum(line["parts_per_thousand"] for line in lines) == pytest.approx(1000)
    assert 0 < smallest["diluted"] <= smallest["neat"]
    made = {(row["material"], row["strength"]): row for row in data["stocks"]}
    for line in lines:
        if line["to_make"]:
            assert made[line["material"], line["strength"]]["made_g"] >= line["grams"]
    assert made
    for row in data["stocks"]:
        assert {"material", "strength", "carrier", "material_g", "carrier_g", "error"} <= set(row)
        assert 0 < row["error"] < 0.1
    assert [row["sample"] for row in data["equal_strength"]] == ["accord", "reference"]
    strengths = [row["strength"] for row in data["equal_strength"]]
    assert strengths == pytest.approx([0.1, 0.1], rel=2e-3)


def test_a_formula_given_is_taken_as_it_is() -> None:
    data = reaccord("weigh", *AGREED, "--output", "json", "--quiet").json["data"]
    with FORMULA.open(encoding="utf-8") as stream:
        given = {row["material"]: float(row["grams"]) for row in csv.DictReader(stream)}
    assert {line["material"]: line["grams"] for line in data["lines"]} == given


def test_the_sheet_reads_back_with_its_order(tmp_path: Path) -> None:
    """The order is a column: what is numbered there is weighed so, whatever its grams."""
    first = reaccord("weigh", *AGREED, "--output", "csv", "--quiet").out
    rows = list(csv.DictReader(io.StringIO(first)))
    assert rows[0]["poured_g"] == ""
    for number, row in enumerate(reversed(rows), start=1):
        row["order"] = str(number)
    turned = tmp_path / "turned.csv"
    with turned.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, rows[0])
        writer.writeheader()
        writer.writerows(rows)
    ended = reaccord("weigh", STUDY, "--formula", turned, "--output", "csv", "--quiet")
    again = list(csv.DictReader(io.StringIO(ended.out)))
    assert [row["material"] for row in again] == [row["material"] for row in reversed(rows)]
    named = reaccord("weigh", *AGREED, "--order", f"{rows[4]['material']}; {rows[2]['material']}", "--output", "csv")
    ordered = [row["material"] for row in csv.DictReader(io.StringIO(named.out))]
    assert ordered[:2] == [rows[4]["material"], rows[2]["material"]]


def test_another_batch_and_too_small_a_one() -> None:
    data = reaccord("weigh", *AGREED, "--accord-g", "12", "--output", "json", "--quiet").json["data"]
    assert data["accord_g"] == pytest.approx(12, rel=1e-3)
    ended = reaccord("weigh", *AGREED, "--accord-g", "0.05")
    assert ended.code == 2
    least = re.search(r"Take --accord-g ([\d.]+) or more", ended.err)
    assert least is not None
    assert reaccord("weigh", *AGREED, "--accord-g", least[1], "--quiet").code == 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--accord-g", "0"), "--accord-g must be above 0"),
        (("--accord-g", "100000"), "on hand. Take --accord-g"),
        (("--strength", "0.1"), '--strength takes a share above 0 and at most 100 %, as "10 %", not "0.1".'),
        (("--strength", "99 %"), "the accord is only"),
        (("--vial-g", "0.001"), "take larger vials"),
        (("--order", "Citronellol"), '--order: no bottle is called "Citronellol". Did you mean "Citronellol 95"?'),
        (("--out", "sheet.png"), "nothing is written as .png"),
    ],
)
def test_what_is_refused(words: tuple[str, ...], said: str) -> None:
    ended = reaccord("weigh", *AGREED, *words)
    assert ended.code == 2
    assert said in ended.err


def test_page_and_workbook_hold_every_line_and_no_markup_of_a_name(study: Path, tmp_path: Path) -> None:
    bottles = study.with_name("bottles.csv")
    text = bottles.read_text(encoding="utf-8")
    assert text.count(",C-31,") == 1
    bottles.write_text(text.replace(",C-31,", f",{NASTY},"), encoding="utf-8")
    formula = tmp_path / "f.csv"
    formula.write_text(f"material,lot,grams\nCitronellol 95,{NASTY},3\n")
    page, book = tmp_path / "sheet.html", tmp_path / "sheet.xlsx"
    for out in (page, book):
        assert reaccord("weigh", study, "--formula", formula, "--out", out, "--quiet").code == 0
    html = page.read_text(encoding="utf-8")
    assert "<script" not in html
    assert "&lt;script&gt;" in html
    assert not re.search(r"(?:src|href)=", html)
    sheet = openpyxl.load_workbook(book)["weigh"]
    headings = [cell.value for cell in sheet[1]]
    lot = sheet.cell(2, headings.index("lot") + 1)
    assert (lot.value, lot.data_type, lot.quotePrefix) == (NASTY, "s", True)
    assert sheet.cell(2, len(headings)).value.startswith("=SUM(")
    ended = reaccord("weigh", study, "--formula", book, "--output", "csv", "--quiet")
    assert ended.code == 0
    assert NASTY in ended.out


def test_fit_says_what_to_make_and_where_that_stands() -> None:
    assert re.search(r"\d+ dilutions? to make: reaccord weigh", reaccord("fit", STUDY, "--quiet").out)
