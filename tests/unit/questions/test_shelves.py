"""A shelf read once gives the studies, findings and programmes that reading everything each time gives."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from tests.random_studies import Draft, draw
from tests.seeds import seeds
from tests.studies import folder
from tests.unit.questions.test_parcel import same

from reaccord.contract import Programme
from reaccord.domain.study import Study
from reaccord.findings import InvalidInput
from reaccord.programme import state
from reaccord.questions.many.parcel import Parcel, parcels
from reaccord.questions.many.shelves import MOST, Shelves


def opened(parcel: Parcel) -> Study | InvalidInput:
    try:
        return parcel.open()
    except InvalidInput as error:
        return error


def agree(parcel: Parcel, shelves: Shelves) -> None:
    anew = opened(parcel)
    if isinstance(anew, InvalidInput):
        with pytest.raises(InvalidInput) as caught:
            shelves.opened(parcel)
        assert (caught.value.errors, caught.value.warnings) == (anew.errors, anew.warnings)
        return
    study, programme = shelves.opened(parcel)
    same(study, anew)
    assert (study.amounts, study.set_aside) == (anew.amounts, anew.set_aside)
    equal(programme, state(anew))


def equal(one: Programme, other: Programme) -> None:
    for name, value in vars(other).items():
        if isinstance(value, np.ndarray):
            np.testing.assert_array_equal(getattr(one, name), value)
        elif name != "limits":
            assert getattr(one, name) == value
    for mine, theirs in zip(one.limits, other.limits, strict=True):
        assert (mine.key, mine.sentence, mine.most) == (theirs.key, theirs.sentence, theirs.most)
        np.testing.assert_array_equal(mine.amounts, theirs.amounts)
        np.testing.assert_array_equal(mine.used, theirs.used)


def varied(draft: Draft, where: Path) -> list[Path]:
    """Return studies of one shelf: other settings, one sample, another target, and files called otherwise."""
    changed, other = draft.copy(), draft.copy()
    changed.settings["limits"] = {**changed.settings.get("limits", {}), "lines": 3}
    changed.settings["batch"]["accord_g"] *= 2
    one = draft.copy()
    one.settings["target"]["samples"] = ["S1"]
    for row in other.tables["target.csv"][:1]:
        row["S1"] = "tr"
    drafts = [draft, changed, one, other, draft]
    paths = [each.write(where / str(number)) for number, each in enumerate(drafts)]
    renamed = paths[-1].with_name("another.toml")
    paths[-1].rename(renamed)
    return [*paths[:-1], renamed]


@seeds(0, 8, 60, 400)
def test_shared_tables_give_what_reading_them_gives(seed: int, tmp_path: Path) -> None:
    shelves = Shelves()
    for path in (twice := varied(draw(seed), tmp_path)) + twice[:2]:
        for each_sample in (False, True):
            for parcel in parcels(path, each_sample=each_sample):
                agree(parcel, shelves)


ODD = (
    "1",
    "2",
    "3",
    "0",
    "100",
    "101",
    "150",
    "007",
    "1e1",
    "12,5",
    "12.",
    ".5",
    "tr",
    "nd",
    " 7 ",
    '"8"',
    "<0.1",
    "5-9",
    "",
)
"""Cells that a figure is replaced with: some are read alike, some make another table of it."""


@seeds(0, 3, 60, 400)
def test_other_figures_give_what_reading_them_gives(seed: int, tmp_path: Path) -> None:
    """Each number a little otherwise, one cell or a whole column quite otherwise; with numbers of rows beside them."""
    rng, shelves, draft = np.random.default_rng(seed), Shelves(), draw(seed)
    (parcel,) = parcels(draft.write(tmp_path / "first"))
    agree(parcel, shelves)
    for number in range(6):
        other = draft.copy()
        rows = other.tables["target.csv"]
        for row in rows:
            for name, cell in row.items():
                if name in {"S1", "S2", "low", "high", "weight"} and cell and cell[0].isdigit():
                    row[name] = f"{float(cell) * rng.uniform(0.9, 1.0):.6g}"
        if number > 2:
            name = str(rng.choice([name for name in rows[0] if name != "constituent"]))
            for place in range(len(rows)) if number == 5 else [int(rng.integers(len(rows)))]:
                rows[place][name] = str(place + 1) if number == 5 else str(rng.choice(ODD))
        for parcel in parcels(other.write(tmp_path / str(number)), each_sample=bool(number % 2)):
            agree(parcel, shelves)


def test_a_table_of_the_same_form_is_not_read_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    draft, shelves = draw(8), Shelves()
    other = draft.copy()
    other.tables["target.csv"][0]["S1"] = "11.25"
    first, second = (
        next(parcels(each.write(tmp_path / each_name))) for each, each_name in ((draft, "a"), (other, "b"))
    )
    anew = second.open()
    shelves.opened(first)
    monkeypatch.setattr("reaccord.questions.many.shelves.read_tables", None)
    same(shelves.opened(second)[0], anew)


def test_errors_of_a_shelf_are_those_of_reading_it_and_stop_no_other(tmp_path: Path) -> None:
    draft = draw(3)
    broken = draft.copy()
    broken.tables["bottles.csv"][0]["purity"] = "much"
    shelves = Shelves()
    for number, each in enumerate([broken, draft, broken]):
        (parcel,) = parcels(each.write(tmp_path / str(number)))
        agree(parcel, shelves)


def test_few_shelves_are_remembered(tmp_path: Path) -> None:
    shelves = Shelves()
    for seed in range(MOST + 3):
        (parcel,) = parcels(draw(seed).write(tmp_path / str(seed)))
        agree(parcel, shelves)
    assert len(shelves._grounds) <= MOST


def test_what_is_shared_is_settled_once_and_each_sample_is_its_own(tmp_path: Path) -> None:
    seed = next(seed for seed in range(100) if draw(seed).settings["target"].get("combine") == "band")
    paths = varied(draw(seed), tmp_path)
    shelves = Shelves()
    first, changed = (shelves.opened(parcel)[0] for path in paths[:2] for parcel in parcels(path))
    assert changed.settled is first.settled
    one, two = (shelves.opened(parcel)[0] for parcel in parcels(paths[0], each_sample=True))
    assert one.settled is two.settled is first.settled
    (other,) = (shelves.opened(parcel)[0] for parcel in parcels(paths[3]))
    assert other.settled is not first.settled
    assert other.tables.bottles is first.tables.bottles
    assert other.settled.bottles is first.settled.bottles  # the same names: its figures alone are settled


def test_a_target_of_other_names_or_with_a_figure_in_doubt_is_settled_by_itself(tmp_path: Path) -> None:
    draft = draw(8)
    renamed, doubtful, swapped = draft.copy(), draft.copy(), draft.copy()
    renamed.tables["target.csv"][0]["constituent"] = "brick dust"
    doubtful.tables["target.csv"][0].update({"S1": "1", "low": "20", "high": "30"})
    rows = swapped.tables["target.csv"]
    rows[0], rows[1] = rows[1], rows[0]
    shelves = Shelves()
    for number, each in enumerate([draft, renamed, doubtful, swapped, draft]):
        (parcel,) = parcels(each.write(tmp_path / str(number)))
        agree(parcel, shelves)


BOTTLES = (
    "material,constituent,purity\nLinalool 97,linalool,97\nGeraniol 97,geraniol,97\nCitronellol 95,citronellol,95\n"
    "Rose base,,"
)
ROSE = "material,part,share\nRose base,geraniol,60\nRose base,citronellol,40"


def written(where: Path, target: str) -> Path:
    where.mkdir()
    return folder(where, target=target, bottles=BOTTLES, compositions=ROSE)


def test_a_row_that_opens_a_material_is_settled_again(tmp_path: Path) -> None:
    """The base brings one new constituent only: as many rows as before, and not the same ones."""
    target = "constituent,S1\nlinalool,{}\ngeraniol,{}\nRose base,{}\n"
    shelves = Shelves()
    for number, shares in enumerate([(50, 20, 25), (45, 20, 30), (40, 25, 30)]):
        for parcel in parcels(written(tmp_path / str(number), target.format(*shares)), each_sample=False):
            agree(parcel, shelves)


def test_a_sample_alone_may_contradict_its_band(tmp_path: Path) -> None:
    target = "constituent,S1,S2,low,high\nlinalool,50,60,,\ngeraniol,30,0,20,40\ncitronellol,15,30,,\n"
    shelves = Shelves()
    for parcel in parcels(written(tmp_path / "a", target), each_sample=True):
        agree(parcel, shelves)


MARKED = ("<0.1", "-", "trace", "n.d.", "", "5*", "2 ± 0.1")
"""Cells that are taken as something, which is said once for all that are taken so."""


@seeds(0, 3, 30, 300)
def test_what_is_said_of_several_cells_counts_those_of_the_sample(seed: int, tmp_path: Path) -> None:
    rng, shelves = np.random.default_rng((20261129, seed)), Shelves()
    lines = ["constituent,S1 (area %),S2,S3 (area %)"]
    for name in ("linalool", "geraniol", "citronellol", "nerol", "eugenol"):
        cells = [str(rng.choice(MARKED)) if rng.random() < 0.5 else str(rng.integers(10, 20)) for _ in range(3)]
        lines.append(",".join([name, *cells]))
    path = written(tmp_path / "a", "\n".join([*lines, "citronellal,9,9,9"]))
    (whole,) = parcels(path)
    agree(whole, shelves)
    for parcel in parcels(path, each_sample=True):
        agree(parcel, shelves)


def test_a_warning_of_another_sample_is_not_told_of_one(tmp_path: Path) -> None:
    target = "constituent,S1,S2\nlinalool,50,60\ngeraniol,trace,30\ncitronellol,trace,trace\n"
    shelves = Shelves()
    told = [shelves.opened(parcel)[0].warnings for parcel in parcels(written(tmp_path / "a", target), each_sample=True)]
    assert [[(w.place.row, w.cells, w.message) for w in said] for said in told] == [
        [(3, 2, "taken as a trace (so too in 1 more row).")],
        [(4, 1, "taken as a trace.")],
    ]
