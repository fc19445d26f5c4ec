"""Whatever stands in the files, reading them gives a study or `InvalidInput`, never anything else."""

from __future__ import annotations

import contextlib
import io
from pathlib import Path
from typing import Any

import openpyxl
import openpyxl.utils.exceptions
import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl.cell.rich_text import CellRichText, TextBlock
from openpyxl.cell.text import InlineFont
from tests.studies import folder, study_of, texts

from reaccord.findings import Findings, InvalidInput
from reaccord.study.load import load_study
from reaccord.tables import columns
from reaccord.tables.cells import BadCell
from reaccord.tables.number_format import Unclear, shown
from reaccord.tables.rows import _READERS
from reaccord.tables.separated import parse_text
from reaccord.tables.studyfile import parse_study
from reaccord.tables.workbook import sheet_of_bytes

ODD = ["", " ", "0", "-1", "12,5", "1e308", "1e-308", "NaN", "inf", "tr", "nd", "100", "60", "102", "10 %", "5 ppm"]
ODD += ["yes", "no", "x", ";", "a;b", "geraniol", "citral", "neral", "water", "DPG", "106-24-1", "1-1-1", "undeclared"]
ODD += ["geraniol + nerol", " + ", "+", "a + ", "Oil", "Base", "material", "constituent", "mass", "fid-area", "any"]
ODD += [
    "each",
    "sum",
    "ratio",
    "prohibited",
    "2026-11-25",
    "9999-12-31",
    "0001-01-01",
    "C10H18O",
    "CO2",
    "Xx",
    "\u00a0",
]
ODD += [
    "<0.1",
    "≤ 5 ppm",
    "12 ± 0.3",
    "1-2",
    "1 2",
    "12 a",
    "12*",
    "–",
    "n.d.",
    "trace",
    "trace (<0.05)",
    "1.2 ± 0.1a",
    "0.3¹,²",
    "n/a",
]
ODD += ["٣", "½", "\u2212" + "5", "é", "'", "(", "%", "‰", "9" * 60, "Geraniol", "soap"]
ODD += ["Total", "linalool/eugenol", "a-pinene", "Linalool*", "Linalool (1)", "ß-pinene", "1.8-cineole", "x\u202ey"]
HEADINGS = ["G1", "G2", "Min", "Max", "Mean", "SD", "Range", "Peak area %", "G1 (ppm)", "mol %", "RIa", "n", "CAS#"]
CELLS = st.one_of(st.sampled_from(ODD), st.text(max_size=8))


def quoted(cell: str) -> str:
    return '"' + cell.replace('"', '""') + '"'


@st.composite
def tables(draw: st.DrawFn, name: str) -> str:
    known = [column.name for column in columns.TABLES[name]]
    needed = [column.name for column in columns.TABLES[name] if column.required]
    more = draw(st.lists(st.sampled_from([*known, *HEADINGS]), unique=True, max_size=6))
    headings = list(dict.fromkeys([*needed, *more]))
    rows = draw(st.lists(st.lists(CELLS, min_size=len(headings), max_size=len(headings)), max_size=4))
    return "\n".join(",".join(map(quoted, line)) for line in [headings, *rows])


SETTINGS: dict[str, dict[str, Any]] = {
    "target": {
        "basis": ["mass", "fid-area"],
        "rest": ["close", "open"],
        "combine": ["mean", "band"],
        "samples": [["G1"]],
    },
    "shelf": {"overdue": ["keep", "exclude"]},
    "batch": {"accord_g": [10, 1e-300, 1e7], "carrier_max_g": [0, 1e308]},
    "balance": {"readability_g": [0.01, 1e-300, 1e9], "tolerance": ["1 %", "1e-7 %"], "minimum_g": [0.1, 1e9]},
    "limits": {
        "cost_per_kg": [1],
        "exclude": [["Oil"], ["nothing"]],
        "product": ["soap"],
        "dosage": ["1 %"],
        "amount": [[{"material": "Oil", "exactly_g": 1e-300}], [{"material": "Base", "at_least_g": 1e9}]],
    },
    "dilutions": {"strengths": [["10 %", "1e-290 %"]], "carrier": ["DPG", "Oil", "Base"]},
}


@st.composite
def choices(draw: st.DrawFn) -> dict[str, dict[str, Any]]:
    chosen: dict[str, dict[str, Any]] = {}
    for section, keys in SETTINGS.items():
        picked = {key: draw(st.sampled_from([None, *values])) for key, values in keys.items()}
        if any(value is not None for value in picked.values()):
            chosen[section] = picked
    return chosen


@given(tables("target"), tables("bottles"), tables("compositions"), tables("constituents"), tables("limits"), choices())
def test_tables_of_odd_cells(
    target: str, bottles: str, compositions: str, constituents: str, limits: str, chosen: dict[str, Any]
) -> None:
    files = texts(
        target=target,
        bottles=bottles,
        compositions=compositions,
        constituents=constituents,
        limits=limits,
        settings=chosen,
    )
    with contextlib.suppress(InvalidInput):
        study_of(files)


SOUND = {
    "target": "constituent,G1,low,high\ngeraniol,50,,\ncitral,20,10,30\nlinalool + nerol,tr,,",
    "bottles": "material,constituent,purity,strength,carrier,price_per_kg,stock_g,lot,opened,keeps_months\n"
    "Geraniol,geraniol,97,,,20,5,a,2026-01-01,12\nGeraniol,geraniol,97,10,DPG,9,,,,\nOil,,,,,,,,,\nDPG,DPG,100,,,5,,,,",
    "compositions": "material,part,share,low,high,basis,part_kind,strength,carrier\n"
    "Oil,citral,50,40,60,,,,\nOil,Base,10,,,,material,10,DPG\nBase,linalool,80,,,fid-area,,,\nBase,nerol,5,,,,,,",
    "constituents": "constituent,cas,synonyms,formula,benzene_rings,carrier,members\ngarden ketal,,GK,C12H20O2,0,no,",
    "limits": "rule,members,product,max,kind\nR,citral;Base,soap,1,sum\nS,geraniol,any,,prohibited",
}
SOUND_SETTINGS: dict[str, Any] = {
    "balance": {"readability_g": 0.01, "minimum_g": 0.02},
    "dilutions": {"strengths": ["10 %"], "carrier": "DPG"},
    "limits": {"product": "soap", "dosage": "1 %", "exclude": ["Base"]},
}


@given(st.sampled_from(sorted(SOUND)), st.integers(1, 4), st.integers(0, 9), CELLS)
def test_a_sound_study_with_one_odd_cell(table: str, row: int, column: int, cell: str) -> None:
    lines = [line.split(",") for line in SOUND[table].splitlines()]
    here = lines[row % len(lines)]
    here[column % len(here)] = cell
    spoilt = "\n".join(",".join(map(quoted, line)) for line in lines)
    with contextlib.suppress(InvalidInput):
        study_of(texts(**{**SOUND, table: spoilt}, settings=SOUND_SETTINGS))


@given(st.sampled_from(["study.toml", "target.csv", "bottles.csv"]), st.binary(max_size=60), st.integers(0, 80))
def test_raw_bytes_in_any_file(tmp_path: Path, name: str, noise: bytes, at: int) -> None:
    path = folder(tmp_path)
    sound = (tmp_path / name).read_bytes()
    (tmp_path / name).write_bytes(sound[:at] + noise + sound[at + len(noise) :])
    with contextlib.suppress(InvalidInput):
        load_study(path)


def _workbook() -> bytes:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "target"
    for line in SOUND["target"].splitlines():
        sheet.append(line.split(","))
    packed = io.BytesIO()
    book.save(packed)
    return packed.getvalue()


WORKBOOK = _workbook()


@given(st.binary(max_size=40), st.integers(0, len(WORKBOOK)))
def test_raw_bytes_in_a_workbook(noise: bytes, at: int) -> None:
    content = WORKBOOK[:at] + noise + WORKBOOK[at + len(noise) :]
    findings = Findings()
    assert sheet_of_bytes(content, "b.xlsx#target", findings) is not None or findings.errors


@st.composite
def sheets(draw: st.DrawFn) -> list[list[Any]]:
    fonts = st.sampled_from(
        [InlineFont(vertAlign="superscript"), InlineFont(vertAlign="subscript"), InlineFont(b=True)]
    )
    rich = st.lists(st.one_of(CELLS, st.builds(TextBlock, fonts, CELLS)), max_size=3).map(CellRichText)
    cells = st.one_of(CELLS, rich, st.none(), st.floats(), st.integers(), st.booleans(), st.dates(), st.datetimes())
    return draw(st.lists(st.lists(cells, max_size=4), min_size=1, max_size=4))


@given(sheets())
def test_any_values_in_a_sheet(tmp_path: Path, rows: list[list[Any]]) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    for row in rows:
        with contextlib.suppress(ValueError, openpyxl.utils.exceptions.IllegalCharacterError):
            sheet.append(row)
    book.save(tmp_path / "b.xlsx")
    findings = Findings()
    assert sheet_of_bytes((tmp_path / "b.xlsx").read_bytes(), "b.xlsx", findings) is not None or findings.errors


@given(st.one_of(st.floats(), st.integers()), st.text(st.sampled_from('0#?.,;%‰"\\[]<>=_*@/-+ E1ag€ppm'), max_size=12))
def test_any_number_in_any_format(value: float, code: str) -> None:
    with contextlib.suppress(Unclear):
        assert shown(value, code, "share")


@given(st.text(max_size=60))
def test_any_text_as_a_study_file_and_as_a_table(text: str) -> None:
    findings = Findings()
    assert parse_study(text, "study.toml", findings) is None
    assert findings.errors
    for delimiter in (",", "\t"):
        table = parse_text(text, "t.csv", delimiter, findings)
        assert table is None or all(len(row) == len(table.headings) for _, row in table.rows)


@pytest.mark.parametrize("kind", sorted(_READERS))
@given(cell=CELLS)
def test_any_cell_in_any_kind_of_column(kind: str, cell: str) -> None:
    with contextlib.suppress(BadCell):
        _READERS[kind](cell)
