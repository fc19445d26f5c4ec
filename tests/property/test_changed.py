"""A changed study is the study read from tables written with that change; restated it is its programme, bit for bit."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from tests.random_studies import Draft, draw

from reaccord.contract import Programme
from reaccord.domain.study import Study
from reaccord.domain.target import TargetRow
from reaccord.findings import Findings, InvalidInput
from reaccord.programme import restate, state
from reaccord.study import changed
from reaccord.study.load import load_study, study_from_tables

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*/*.toml"))
FEW, SEEDS = range(8), range(40)
SHARES = {"undeclared", "dosage", "floor", "foreign_floor"}
Pair = tuple[Draft, Callable[[Study], Study]]
"""A draft with a change written into it, and the change."""


def section(draft: Draft, name: str, **keys: Any) -> Draft:
    written = draft.copy()
    written.settings.setdefault(name, {}).update(keys)
    return written


def settings(draft: Draft) -> Iterator[Pair]:
    written: list[tuple[str, dict[str, Any]]] = [
        ("limits", {"cost_per_kg": 40.0}),
        ("limits", {"lines": 3}),
        ("limits", {"undeclared": 0.07}),
        ("batch", {"carrier_max_g": 0.3}),
        ("batch", {"accord_g": 23.0}),
        ("balance", {"readability_g": 0.02}),
        *(("fit", {"measure": measure}) for measure in ("squares", "absolute", "worst")),
        *(("fit", {"scale": scale}) for scale in ("equal", "proportional", "relative")),
        ("fit", {"floor": 0.02, "foreign_floor": 0.01}),
        ("target", {"rest": "open"}),
        ("target", {"combine": "band"}),
        ("target", {"samples": ["S1"]}),
    ]
    if "table" in draft.settings.get("limits", {}):
        written += [("limits", {"dosage": 0.2}), ("limits", {"product": "soap"})]
    for name, keys in written:
        if name == "balance" and "balance" not in draft.settings:
            continue
        given = {key: tuple(value) if isinstance(value, list) else value for key, value in keys.items()}
        text = {key: f"{100 * value} %" if key in SHARES else value for key, value in keys.items()}
        yield (
            section(draft, name, **text),
            lambda study, name=name, given=given: changed.with_keys(study, name, **given),
        )


def dilutions(draft: Draft) -> Iterator[Pair]:
    if "dilutions" in draft.settings:
        less = section(draft, "dilutions", strengths=["10 %"])
        made = lambda study: replace(study.settings.dilutions, strengths=(0.1,))  # noqa: E731
        yield less, lambda study: changed.with_settings(study, replace(study.settings, dilutions=made(study)))
        few = section(draft, "dilutions", most=1)
        yield few, lambda study: changed.with_keys(study, "dilutions", most=1)
        none = draft.copy()
        del none.settings["dilutions"]
        yield none, lambda study: changed.with_settings(study, replace(study.settings, dilutions=None))


def amounts(draft: Draft) -> Iterator[Pair]:
    material = draft.tables["bottles.csv"][0]["material"]
    written = draft.settings.get("limits", {}).get("amount", [])
    others = [amount for amount in written if amount["material"] != material]
    more = section(draft, "limits", amount=[*others, {"material": material, "at_most_g": 0.5}])
    yield more, lambda study: changed.with_amount(study, material, at_most_g=0.5)
    for amount in written:
        less = section(draft, "limits", amount=[other for other in written if other is not amount])
        yield less, lambda study, name=amount["material"]: changed.with_amount(study, name)


def weights(draft: Draft) -> Iterator[Pair]:
    for number in (0, len(draft.tables["target.csv"]) - 1):
        written = draft.copy()
        row = written.tables["target.csv"][number]
        row["weight"] = "7"
        yield written, lambda study, label=row["constituent"]: changed.with_weight(study, label, 7.0)


def excluded(draft: Draft) -> Iterator[Pair]:
    materials = dict.fromkeys(row["material"] for row in draft.tables["bottles.csv"])
    out = draft.settings.get("limits", {}).get("exclude", [])
    for material in materials:
        if material not in out:
            yield (
                section(draft, "limits", exclude=[*out, material]),
                lambda study, name=material: each(study, name, changed.without_bottle),
            )
    for material in out:
        back = section(draft, "limits", exclude=[other for other in out if other != material])
        if not back.settings["limits"]["exclude"]:
            del back.settings["limits"]["exclude"]
        yield back, lambda study, name=material: each(study, name, changed.with_bottle_available)


def each(study: Study, material: str, change: Callable[..., Study]) -> Study:
    """Change every bottle of a material, one after the other."""
    for bottle in study.settled.bottles:
        if bottle.key.material == material:
            study = change(study, bottle.key)
    return study


def grams(draft: Draft) -> Iterator[Pair]:
    for number in (0, 1, len(draft.tables["bottles.csv"]) - 1):
        for cells in ({"stock_g": 0.0}, {"stock_g": 0.2}, {"stock_g": 3.0, "minimum_g": 0.05}):
            written = draft.copy()
            written.tables["bottles.csv"][number] |= {name: repr(value) for name, value in cells.items()}
            yield (
                written,
                lambda study, number=number, cells=cells: changed.with_bottle_cells(
                    study, study.settled.bottles[number].key, **cells
                ),
            )


def rules(draft: Draft) -> Iterator[Pair]:
    """Of a row with one member, of a sum and of a ratio, as a person would write them."""
    for number, row in enumerate(draft.tables.get("limits.csv", [])):
        if ";" in row["members"] and row["kind"] != "sum":
            continue
        if row["kind"] == "ratio":
            continue
        written, gone = draft.copy(), draft.copy()
        written.tables["limits.csv"][number]["max"] = "0.25"
        yield written, lambda study, row=row: changed.with_rule(study, claim_of(study, row), 0.0025)
        del gone.tables["limits.csv"][number]
        yield gone, lambda study, row=row: changed.with_rule(study, claim_of(study, row), None)
    ratios = [row for row in draft.tables.get("limits.csv", []) if row["kind"] == "ratio"]
    for name in dict.fromkeys(row["rule"] for row in ratios):
        written, gone = draft.copy(), draft.copy()
        for row in written.tables["limits.csv"]:
            if row["rule"] == name:
                row["max"] = repr(0.5 * float(row["max"]))
        mine = next(row for row in ratios if row["rule"] == name)
        yield written, lambda study, row=mine: changed.with_rule(study, claim_of(study, row), 0.5)
        gone.tables["limits.csv"] = [row for row in gone.tables["limits.csv"] if row["rule"] != name]
        yield gone, lambda study, row=mine: changed.with_rule(study, claim_of(study, row), None)


def claim_of(study: Study, row: dict[str, Any]) -> Any:
    product = "" if row["kind"] == "ratio" else row["product"]
    return next(c.key for c in study.claims() if c.key.subject[:3] == (row["rule"], row["kind"], product))


def added(draft: Draft) -> Iterator[Pair]:
    """A bottle that another draft of the same study has: of constituents the study knows, and of one it does not."""
    rows = [
        {"material": "Newcomer", "constituent": "constituent 01", "purity": "93", "price_per_kg": "3"},
        {"material": "Stranger", "constituent": "constituent of elsewhere", "purity": "80", "price_per_kg": "7"}
        | {"stock_g": "2.5"},
    ]
    for row in rows:
        written = draft.copy()
        written.tables["bottles.csv"].append(row)

        def more(study: Study, written: Draft = written, name: str = row["material"]) -> Study:
            there = written.study()
            stocks = (*there.stocks, *(item.stock for item in there.set_aside))
            return changed.with_bottle(study, next(s for s in stocks if s.key.material == name and s.recipe is None))

        yield written, more


KINDS = (settings, dilutions, amounts, weights, excluded, grams, rules, added)
THINNED = {settings: 6, excluded: 4, grams: 3}
"""Of so many changes one is tried in the suite, all in the sweep."""


def read(draft: Draft) -> Study | tuple[str, ...]:
    try:
        return draft.study()
    except InvalidInput as found:
        return tuple(sorted({error.code for error in found.errors}))


def changed_study(study: Study, change: Callable[[Study], Study]) -> Study | tuple[str, ...]:
    try:
        return change(study)
    except InvalidInput as found:
        return tuple(sorted({error.code for error in found.errors}))


def assert_same_programme(one: Programme, other: Programme) -> None:
    for name in ("content", "low", "high", "factor", "basis", "minimum", "maximum", "step"):
        np.testing.assert_array_equal(getattr(one, name), getattr(other, name), err_msg=name)
    for name in ("columns", "rows", "batch_g", "strengths", "measure", "made"):
        assert getattr(one, name) == getattr(other, name), name
    assert [(row.key, row.label, row.sentence, row.most) for row in one.limits] == [
        (row.key, row.label, row.sentence, row.most) for row in other.limits
    ]
    for mine, theirs in zip(one.limits, other.limits, strict=True):
        np.testing.assert_array_equal(mine.amounts, theirs.amounts, err_msg=mine.label)
        np.testing.assert_array_equal(mine.used, theirs.used, err_msg=mine.label)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_changed_as_if_written(kind: Callable[[Draft], Iterator[Pair]]) -> None:
    assert sum(compared(kind, seed, every=THINNED.get(kind, 1)) for seed in FEW) >= 2


@pytest.mark.sweep
@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_all_changes_as_if_written(kind: Callable[[Draft], Iterator[Pair]]) -> None:
    assert sum(compared(kind, seed) for seed in SEEDS) >= 20


def compared(kind: Callable[[Draft], Iterator[Pair]], seed: int, every: int = 1) -> int:
    """Return how many changes of a draft gave a study and were compared; of each kind one in so many is tried."""
    draft = draw(seed)
    study, count = read(draft), 0
    if not isinstance(study, Study):
        return 0
    before = state(study)
    for written, change in islice(kind(draft), seed % every, None, every):
        there, here = read(written), changed_study(study, change)
        if not isinstance(there, Study) or not isinstance(here, Study):
            assert there == here
            continue
        assert_same_programme(state(here), state(there))
        assert_same_programme(restate(before, study, here), state(here))
        assert here.target.rows == there.target.rows
        assert (here.stocks, here.carriers, here.amounts) == (there.stocks, there.carriers, there.amounts)
        assert {item.stock.key for item in here.set_aside} == {item.stock.key for item in there.set_aside}
        if kind is not added:  # a name that no table knows is noted while tables are read
            assert sorted(map(str, here.warnings)) == sorted(map(str, there.warnings))
        count += 1
    return count


def row_of(study: Study, label: str) -> TargetRow | None:
    """Return the named row with this label, if there is one."""
    return next((row for row in study.target.rows if row.label == label and row.kind == "named"), None)


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: f"{path.parent.name}/{path.stem}")
def test_changes_one_after_the_other(path: Path) -> None:
    """Ten steps; what tables can say is read again from the tables of the changed study, the rest taken back."""
    study = load_study(path)
    programme, first = state(study), state(study)
    places = [entry.place for entry in study.settled.target]
    named = next(
        (entry for entry in study.settled.target if places.count(entry.place) == 1 and row_of(study, entry.label)),
        next(entry for entry in study.settled.target if row_of(study, entry.label)),
    )
    weighed = places.count(named.place) == 1  # else its row of the table is a material, of which it is a part
    spare = study.stocks[0].key if study.stocks[0].recipe is None else study.settled.bottles[0].key
    claim = next(study.claims(), None)
    steps: list[tuple[Callable[[Study], Study], bool]] = [
        (lambda s: changed.with_keys(s, "limits", lines=9, dosage=s.settings.limits.dosage), True),
        (lambda s: changed.with_keys(s, "batch", accord_g=2 * s.settings.batch.accord_g, carrier_max_g=30.0), True),
        (lambda s: changed.with_weight(s, named.label, 4.0), weighed),
        (lambda s: changed.with_keys(s, "fit", scale="equal", measure="worst"), True),
        (lambda s: changed.with_bottle_cells(s, spare, stock_g=1.0, minimum_g=0.1), True),
        (lambda s: changed.with_rule(s, claim.key, 0.001) if claim else s, False),
        (lambda s: changed.without_bottle(s, spare), False),
        (lambda s: changed.with_multiples(s, {named.label: 2.0}), False),
        (lambda s: changed.with_multiples(s, {named.label: 0.5}), False),
        (lambda s: changed.with_bottle_available(s, spare), False),
    ]
    taken = True
    for change, told in steps:
        after = change(study)
        programme, study = restate(programme, study, after), after
        assert_same_programme(programme, state(study))
        taken = taken and told
        if taken:
            assert_same_programme(programme, state(study_from_tables(study.tables, Findings())))
    original = load_study(path)
    back = changed.with_settings(study, original.settings)
    back = changed.with_weight(back, named.label, 1.0)
    line = next(bottle.line for bottle in original.settled.bottles if bottle.key == spare)
    back = changed.with_bottle_cells(back, spare, stock_g=line.stock_g, minimum_g=line.minimum_g)
    if claim is not None:
        back = changed.with_rule(back, claim.key, 1000 * claim.most if claim.unit == "ratio" else claim.most)
    assert_same_programme(restate(programme, study, back), state(back))
    if claim is None or claim.unit == "share":
        assert_same_programme(state(back), first)
