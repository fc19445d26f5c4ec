"""A whole study: from files and from frames, everything that is wrong told at once."""

from __future__ import annotations

import datetime
import hashlib
from pathlib import Path
from typing import Any

import pytest
from tests.studies import BOTTLES, TARGET, errors_of, folder, stock, study, texts, told

from reaccord.findings import Finding, InvalidInput, UsageError
from reaccord.study.load import load_study, study_file, study_from_frames


def refused(path: Path) -> tuple[Finding, ...]:
    with pytest.raises(InvalidInput) as caught:
        load_study(path)
    return caught.value.errors


@pytest.mark.parametrize("row", ["1,8-cineole,3", "linalool,3,,5"])
def test_a_row_of_too_many_cells_is_one_finding(row: str) -> None:
    errors = errors_of(target=f"constituent,G1\ngeraniol,60\n{row}\ncitronellol,36")
    assert [(error.code, error.place.row) for error in errors] == [("too-many-cells", 3)]


@pytest.mark.parametrize(
    ("headings", "row"),
    [
        ("constituent,G1,low,high", "1,8-cineole,40,"),
        ("constituent,cas,G1,low,high,weight", "1,8-cineole,470-82-6,40,,"),
        ("constituent,cas,G1,low,high,weight", "(E)-2,4-decadienal,,40,,"),
    ],
)
def test_a_name_cut_at_the_comma_between_its_locants(headings: str, row: str) -> None:
    share = headings.split(",").index("G1")
    others = "\n".join(f"{name}{',' * share}{number}" for name, number in (("geraniol", 60), ("citronellol", 40)))
    errors = errors_of(target=f"{headings}\n{row}\n{others}")
    assert [(error.code, error.place.row, error.place.column) for error in errors] == [("unquoted", 2, "constituent")]


def test_what_only_follows_from_a_misspelt_key_is_not_said() -> None:
    errors = errors_of(bottles=f"{BOTTLES}\nOil,,", settings={"shelf": {"composition": "compositions.csv"}})
    assert [error.code for error in errors] == ["unknown-key"]
    limits = "rule,members,product,max\nR,geraniol,hand soap,1"
    errors = errors_of(limits=limits, settings={"limits": {"produkt": "hand soap", "dosage": "1 %"}})
    assert [error.code for error in errors] == ["unknown-key"]


def test_what_only_follows_from_a_blank_material_is_not_said() -> None:
    limits = {"exclude": ["Linalool"], "amount": [{"material": "Linalool", "at_least_g": 1}]}
    errors = errors_of(bottles=f"{BOTTLES}\n,linalool,100", settings={"limits": limits})
    assert [(error.code, error.place.row) for error in errors] == [("blank", 4)]


HEADS = "material,constituent,purity,strength,carrier\n"


@pytest.mark.parametrize(
    ("rows", "rows_said"),
    [
        ("G,geraniol,0.97,,\nC,citronellol,97,,", [2]),
        ("G,geraniol,1,,\nC,citronellol,0.97 %,,", [2]),
        ("G,geraniol,97,0.1,DPG\nC,citronellol,97,0.01,DPG", [2, 3]),
        ("G,geraniol,97,0.1,DPG\nC,citronellol,97,10,DPG", []),
        ("G,geraniol,97,0.1 %,DPG\nC,citronellol,97,,", []),
        ("G,geraniol,97,1,DPG\nC,citronellol,97,,", []),
    ],
)
def test_what_looks_like_a_fraction_is_asked_about(rows: str, rows_said: list[int]) -> None:
    found = study(bottles=HEADS + rows).warnings
    assert [said.place.row for said in found if said.code == "fraction"] == rows_said


def test_a_composition_in_fractions_is_asked_about() -> None:
    parts = "material,part,share\nOil,geraniol,0.4\nOil,nerol,0.5\nOther,nerol,3\nHalf,nerol,50"
    found = study(bottles=f"{BOTTLES}\nOil,,\nOther,,\nHalf,,", compositions=parts).warnings
    assert [(said.code, said.place.row) for said in found] == [("small-sum", 2), ("small-sum", 4)]
    assert "write them as percent" in found[0].message
    assert found[1].message == "the parts of Other add up to only 3 %; the rest is undeclared."


def test_classes_and_the_rest_of_an_analysis_are_no_constituents() -> None:
    made = study(target="constituent,G1\nMonoterpenes,\nEsters,60\ngeraniol,60\ncitronellol,38\nOthers,2")
    assert [row.label for row in made.target.rows if row.kind == "named"] == ["citronellol", "geraniol"]
    assert made.target.unaccounted == pytest.approx(0.02)
    assert [(w.code, w.place.row) for w in made.warnings] == [("left-out", 2), ("left-out", 3), ("left-out", 6)]
    parts = "material,part,share\nOil,geraniol,40\nOil,Terpene alcohols,10\nOil,balance,50"
    made = study(compositions=parts, bottles=f"{BOTTLES}\nOil,,")
    assert stock(made, "Oil").content.typical == {"geraniol": 0.4}
    assert stock(made, "Oil").content.undeclared == pytest.approx(0.6)
    bottled = errors_of(bottles="material,constituent,purity\nX,Esters,100\nGeraniol,geraniol,100")
    assert [(error.code, error.place.row) for error in bottled] == [("class-row", 2)]


def test_a_class_with_members_of_its_own_is_a_sum() -> None:
    made = study(
        target="constituent,G1\nMonoterpenes,60\ngeraniol,40",
        constituents="constituent,members\nMonoterpenes,limonene;myrcene",
    )
    assert next(row.members for row in made.target.rows if row.label == "Monoterpenes") >= {"limonene", "myrcene"}


def test_from_files(tmp_path: Path) -> None:
    path = folder(tmp_path, settings={"title": "Garden geranium"})
    made = load_study(path)
    assert (made.title, made.date) == ("Garden geranium", datetime.date(2026, 11, 25))
    assert [s.label for s in made.stocks] == ["Citronellol", "Geraniol"]
    assert [(item.file, item.sha256) for item in made.inputs] == [
        (name, hashlib.sha256((tmp_path / name).read_bytes()).hexdigest())
        for name in ("study.toml", "target.csv", "bottles.csv")
    ]
    assert load_study(str(path)) == made


def test_a_table_that_could_not_be_taken_apart_is_one_finding(tmp_path: Path) -> None:
    path = folder(
        tmp_path,
        bottles=BOTTLES + "\nOil,,\nMint,,",
        compositions='material,part,share\nOil,geraniol,60\nOil,"linalool,3\nMint,menthol,40',
        limits="rule,members,product,max\nR,Mint base,any,1",
        settings={"limits": {"dosage": "1 %"}},
    )
    assert [(f.code, f.place.row) for f in refused(path)] == [("csv", 3)]


def test_paths_are_relative_to_the_study_file(tmp_path: Path) -> None:
    (tmp_path / "shelf").mkdir()
    path = folder(tmp_path, settings={"shelf": {"bottles": "shelf/bottles.csv"}})
    (tmp_path / "bottles.csv").rename(tmp_path / "shelf" / "bottles.csv")
    assert load_study(path).stocks


def test_eleven_mistakes_are_eleven_findings() -> None:
    errors = errors_of(
        target='constituent,G1\ngeraniol,60\ncitronellol,"39,5x"\nGeraniol,1',
        bottles="material,constituent,purity,price_per_kg,stock_g\n"
        "Geraniol,geraniol,97,-3,\nCitronellol,citronellol,97,,NaN\nOil,,,,\nNerol,nerol,,,",
        compositions="material,part,share\nOil,limonene,80\nOil,linalool,30",
        limits="rule,members,product,max,kind\nR,limonen;unobtainium,any,1,each",
        settings={
            "balance": {"readability_g": 0},
            "limits": {"exclude": ["Geraniole"], "dosage": "1 %"},
            "fit": {"mesure": "squares"},
        },
    )
    assert sorted((f.code, f.place.file, f.place.row or 0, f.place.column) for f in errors) == sorted(
        [
            ("unknown-key", "study.toml", 0, "fit.mesure"),
            ("bad-value", "study.toml", 0, "balance.readability_g"),
            ("bad-cell", "target.csv", 3, "G1"),
            ("duplicate-row", "target.csv", 4, "constituent"),
            ("out-of-range", "bottles.csv", 2, "price_per_kg"),
            ("bad-cell", "bottles.csv", 3, "stock_g"),
            ("blank", "bottles.csv", 5, "purity"),
            ("over-100", "compositions.csv", 2, "share"),
            ("unknown-material", "study.toml", 0, "limits.exclude"),
            ("unknown-member", "limits.csv", 2, "members"),
            ("unknown-member", "limits.csv", 2, "members"),
        ]
    )


def test_every_finding_says_where() -> None:
    errors = errors_of(bottles="material,constituent,purity\nA,geraniol,0\nB,nerol,inf")
    assert [finding.as_dict() for finding in errors] == [
        {
            "code": "out-of-range",
            "message": '"0" must be above 0 %.',
            "file": "bottles.csv",
            "row": 2,
            "column": "purity",
        },
        {"code": "bad-cell", "message": '"inf" is not a number.', "file": "bottles.csv", "row": 3, "column": "purity"},
    ]


def test_a_missing_study_file_and_a_folder(tmp_path: Path) -> None:
    path = tmp_path / "study.toml"
    assert told(refused(path)) == [("file-missing", f"study.toml: there is no such file: {path}")]
    with pytest.raises(UsageError, match=r"holds no study file \(.toml\). `reaccord new FOLDER` writes one"):
        load_study(study_file(tmp_path))
    assert [code for code, _ in told(refused(tmp_path / "a\0b"))] == ["file-unreadable"]


@pytest.mark.parametrize("name", ["bottles.csv", "target.csv", "compositions.csv", "constituents.csv", "limits.csv"])
def test_a_table_that_is_not_there_is_one_error_and_no_more(tmp_path: Path, name: str) -> None:
    path = folder(
        tmp_path,
        bottles=BOTTLES + "\nOil,,",
        compositions="material,part,share\nOil,geraniol,60",
        constituents="constituent\ngarden ketal",
        limits="rule,members,product,max\nR,geraniol,hand soap,1",
        settings={"limits": {"product": "hand soap", "dosage": "1 %"}},
    )
    (tmp_path / name).unlink()
    assert told(refused(path)) == [("file-missing", f"{name}: there is no such file: {tmp_path / name}")]
    (tmp_path / name).mkdir()
    assert told(refused(path)) == [("not-a-file", f"{name}: this is a folder, not a file: {tmp_path / name}")]
    (tmp_path / name).rmdir()
    (tmp_path / name).write_text("")
    assert [code for code, _ in told(refused(path))] == ["empty-table"]
    (tmp_path / name).write_bytes("material,Néroli".encode("latin-1"))
    assert [code for code, _ in told(refused(path))] == ["encoding"]


def test_one_file_for_two_tables() -> None:
    errors = errors_of(bottles=BOTTLES, settings={"shelf": {"compositions": "bottles.csv"}})
    assert ("same-file", 'study.toml, shelf.compositions: "bottles.csv" is already named by shelf.bottles.') in told(
        errors
    )


def test_a_composition_that_no_bottle_uses_is_said() -> None:
    made = study(
        bottles=BOTTLES + "\nRose oil,,",
        compositions="material,part,share\nRose oil,geraniol,50\nRoes oil,nerol,10\nRoes oil,linalool,10\nX,nerol,10",
    )
    assert told(made.warnings) == [
        (
            "unused-composition",
            'compositions.csv, row 3, column material: no bottle holds "Roes oil". Did you mean "Rose oil"?',
        ),
        ("unused-composition", 'compositions.csv, row 5, column material: no bottle holds "X".'),
    ]


def test_a_composition_is_used_by_a_target_row_or_a_carrier_too() -> None:
    made = study(
        target="constituent,G1\nOld lot,50\ngeraniol,30",
        bottles=BOTTLES + "\nNerol,nerol,97",
        compositions="material,part,share\nOld lot,citronellol,50",
    )
    assert made.warnings == ()
    made = study(
        bottles="material,constituent,purity,strength,carrier\nG,geraniol,100,10,Solvent",
        compositions="material,part,share\nSolvent,DPG,100",
    )
    assert made.warnings == ()


def frames(**tables: list[dict[str, Any]]) -> Any:
    pandas = pytest.importorskip("pandas")
    return {f"{name}.csv": pandas.DataFrame(rows) for name, rows in tables.items()}


SETTINGS = texts()["study.toml"]


def test_from_frames_gives_what_the_files_give() -> None:
    pandas = pytest.importorskip("pandas")
    made = study_from_frames(
        SETTINGS,
        frames(
            target=[{"constituent": "geraniol", "G1": 60}, {"constituent": "citronellol", "G1": 40.0}],
            bottles=[
                {"material": "Geraniol", "constituent": "geraniol", "purity": 100, "lot": None, "opened": pandas.NaT},
                {
                    "material": "Citronellol",
                    "constituent": "citronellol",
                    "purity": 100.0,
                    "lot": 12.0,
                    "opened": pandas.Timestamp("2026-01-02"),
                    "solid": True,
                    "stock_g": pandas.NA,
                },
            ],
        ),
    )
    assert [s.key.lot for s in made.stocks] == ["12", ""]
    assert made.target.rows == study().target.rows
    assert made.stocks[0].solid is True
    assert made.stocks[1].solid is False
    assert len({item.sha256 for item in made.inputs}) == 2


def wrong_frames(tables: Any) -> list[tuple[str, str]]:
    with pytest.raises(InvalidInput) as caught:
        study_from_frames(SETTINGS, tables)
    return told(caught.value.errors)


def test_frames_that_are_wrong() -> None:
    pandas = pytest.importorskip("pandas")
    bottles = {"bottles.csv": pandas.DataFrame([{"material": "G", "constituent": "geraniol", "purity": 100}])}
    assert wrong_frames(bottles) == [("file-missing", "target.csv: there is no frame of that name.")]
    empty = pandas.DataFrame({"constituent": [], "G1": []})
    assert wrong_frames({**bottles, "target.csv": empty}) == [
        ("empty-table", "target.csv: there are headings but no rows.")
    ]
    twice = pandas.DataFrame([["geraniol", 50, 50]], columns=["constituent", "G1", "G1"])
    assert wrong_frames({**bottles, "target.csv": twice}) == [
        ("heading", "target.csv, row 1, column G1: this heading stands twice.")
    ]
    infinite = pandas.DataFrame([{"constituent": "geraniol", "G1": float("inf")}])
    assert [code for code, _ in wrong_frames({**bottles, "target.csv": infinite})] == ["bad-cell"]


def test_wrong_settings_of_frames() -> None:
    with pytest.raises(InvalidInput) as caught:
        study_from_frames("[target]\n", {})
    assert caught.value.errors[0].place.file == "study"


def test_the_same_tables_in_another_order_are_the_same_study() -> None:
    def turned(text: str) -> str:
        head, *rows = text.splitlines()
        columns = [line.split(",")[::-1] for line in (head, *rows[::-1])]
        return "\n".join(",".join(cells) for cells in columns)

    tables = {
        "target": TARGET,
        "bottles": BOTTLES + "\nOil,,",
        "compositions": "material,part,share\nOil,nerol,50\nOil,linalool,30",
    }
    one, other = study(**tables), study(**{name: turned(text) for name, text in tables.items()})
    assert one.stocks == other.stocks
    assert one.target == other.target


@pytest.mark.parametrize(
    "text", ["methyl eugenol.", "1. methyl eugenol", '"methyl eugenol"', "methyl eugenol (93-15-2)"]
)
def test_a_decorated_name_counts_for_its_limit(text: str) -> None:
    quoted = text.replace('"', '""')
    made = study(
        bottles=f"{BOTTLES}\nOil,,",
        compositions=f'material,part,share\nOil,geraniol,99\nOil,"{quoted}",0.5',
        limits="rule,members,product,max\nME,methyl eugenol,any,0.0001",
        settings={"limits": {"table": "limits.csv", "product": "soap", "dosage": "1 %"}},
    )
    assert [found.code for found in made.warnings] == ["taken-as"]
    oil = next(stock for stock in made.stocks if stock.key.material == "Oil")
    assert oil.content.typical["methyl eugenol"] == pytest.approx(0.005)
    assert [member.absent for rule in made.rules for member in rule.members] == [False]


def test_a_name_that_nothing_knows_is_never_silent() -> None:
    made = study(
        bottles=f"{BOTTLES}\nOil,,",
        compositions="material,part,share\nOil,geraniol,99\nOil,methyl eugenol isomer,0.5\nOil,garden ketal,0.1",
    )
    assert [(found.code, found.place.row) for found in made.warnings] == [("maybe-same", 3), ("unknown-names", 4)]
    assert list(made.unknown) == ["methyl eugenol isomer", "garden ketal"]


MIXED = "material,constituent,purity\nTerpineol,,\nMenthol,,\nGeraniol,geraniol,96\nRose oil,,"
MIXED_PARTS = """material,part,share
Terpineol,alpha-terpineol,70
Menthol,menthone,40
Menthol,menthol,40
Rose oil,citronellol,60"""


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ("Menthol,60\ncitronellol,40", [2]),
        ("Terpineol,60\ncitronellol,40", []),
        ("Geraniol,60\ncitronellol,40", []),
        ("Geraniol,60\nRose oil,40", [2]),
        ("menthone,60\nRose oil,40", []),
    ],
)
def test_a_target_row_that_is_a_constituent_and_a_material_is_asked_about(rows: str, said: list[int]) -> None:
    found = study(target=f"constituent,A\n{rows}", bottles=MIXED, compositions=MIXED_PARTS).warnings
    assert [w.place.row for w in found if w.code == "constituent-or-material"] == said


def test_deviations_that_stand_twice_and_numbers_beside_parts_are_left_out() -> None:
    made = study(target="Compound,A,SD,B,SD\ngeraniol,60,1,50,2\ncitronellol,40,1,50,1")
    assert made.target.samples == ("A", "B")
    parts = "material,Compound,CAS No.,Area %\nOil,geraniol,106-24-1,40\nOil,nerol,,50"
    made = study(bottles=f"{BOTTLES}\nOil,,", compositions=parts)
    assert [w.place.column for w in made.warnings if "left out" in w.message] == ["CAS No."]


def test_a_folder_stands_for_the_one_study_file_in_it(tmp_path: Path) -> None:
    path = folder(tmp_path)
    (path.parent / ".hidden.toml").write_text("", encoding="utf-8")
    assert load_study(path.parent).inputs == load_study(path).inputs
    (path.parent / "other.toml").write_text("", encoding="utf-8")
    with pytest.raises(UsageError, match=r"holds 2 study files: other\.toml, study\.toml\. Which one\?"):
        load_study(path.parent)
    assert [error.code for error in refused(tmp_path / "none")] == ["file-missing"]
