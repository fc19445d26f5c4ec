"""No formula breaks a rule on restricted substances, worked out again in fractions from the tables as written.

Nothing of the program's own reading is used: cells are read as fractions, blends opened by their rows. And `dosage`
inverted: at the highest dosage the rule that decides is met, a ten-thousandth above it it breaks.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest
from tests.random_studies import CARRIER, Draft, draw
from tests.seeds import seeds

from reaccord.answer.fit import fit
from reaccord.contract import Budget
from reaccord.domain.stock import StockKey
from reaccord.findings import InvalidInput, NoAnswer, NoFormula
from reaccord.safety.dosage import dosage

TRACE, TRACE_HIGH = Fraction(1, 4000), Fraction(1, 2000)
NOISE = Fraction(1, 10**6)
"""Relative: shares are drawn to six digits, and a blend that adds up to a little over 100 % is scaled."""


def share_of(cell: str) -> Fraction:
    return Fraction(cell) / 100


class Tables:
    """What a neat material holds, opened from the rows of a draft: typical and high contents, materials inside."""

    def __init__(self, draft: Draft) -> None:
        self.tables = draft.tables
        self.rows: dict[str, list[dict[str, Any]]] = {}
        for row in draft.tables.get("compositions.csv", []):
            self.rows.setdefault(row["material"], []).append(row)
        self.pure = {r["material"]: r for r in draft.tables["bottles.csv"] if r.get("constituent")}

    def held(self, material: str, end: str) -> dict[str, Fraction]:
        """Return gram per gram by constituent, and by `material: name` for each material inside."""
        found = {f"material: {material}": Fraction(1)}

        def add(name: str, gram: Fraction) -> None:
            found[name] = found.get(name, Fraction(0)) + gram

        if material in self.pure:
            add(self.pure[material]["constituent"], share_of(self.pure[material]["purity"]))
        for row in self.rows.get(material, []):
            trace = row["share"] == "tr"
            share = TRACE if trace else share_of(row["share"])
            high = TRACE_HIGH if trace else share_of(row["high"]) if row.get("high") else share
            gram = high if end == "high" else share
            if row.get("part_kind") == "material":
                strength = share_of(row["strength"]) if row.get("strength") else Fraction(1)
                for name, part in self.held(row["part"], end).items():
                    add(name, gram * strength * part)
                if strength < 1:
                    add(CARRIER, gram * (1 - strength))
            elif row["part"] != "undeclared":
                add(row["part"], gram)
        return found

    def poured(self, amounts: dict[StockKey, float], end: str) -> dict[str, Fraction]:
        total: dict[str, Fraction] = {}
        for key, grams in amounts.items():
            gram, strength = Fraction(repr(grams)), Fraction(repr(key.strength))
            for name, part in self.held(key.material, end).items():
                total[name] = total.get(name, Fraction(0)) + gram * strength * part
            if strength < 1:
                total[CARRIER] = total.get(CARRIER, Fraction(0)) + gram * (1 - strength)
        return total


def named(draft: Draft) -> set[str]:
    """Return the constituents of the target's rows with a share above zero."""
    found = set()
    for row in draft.tables["target.csv"]:
        cells = [row.get(key) for key in ("S1", "S2", "high")]
        if any(cell and cell != "nd" and (cell == "tr" or float(cell) > 0) for cell in cells):
            found |= set(row["constituent"].split(" + "))
    return found


def worst(draft: Draft, amounts: dict[StockKey, float], at: Fraction) -> Fraction:
    """Return the largest claim of any rule, as a part of what it allows."""
    tables = Tables(draft)
    typical, high = tables.poured(amounts, "typical"), tables.poured(amounts, "high")
    odorants = {name: gram for name, gram in typical.items() if not name.startswith("material: ") and name != CARRIER}
    basis = sum(
        (
            gram
            for name, gram in odorants.items()
            if draft.settings["target"].get("rest") == "open" or name in named(draft)
        ),
        start=Fraction(0),
    )
    claims: list[Fraction] = []
    ratios: dict[str, Fraction] = {}
    for row in draft.tables.get("limits.csv", []):
        shares = []
        for member in str(row["members"]).split("; "):
            name = member if member.startswith("constituent") or member == CARRIER else f"material: {member}"
            shares.append(at * high.get(name, Fraction(0)) / basis)
        most = share_of(row["max"]) if row.get("max") else Fraction(0)
        if row["kind"] == "ratio":
            ratios[row["rule"]] = ratios.get(row["rule"], Fraction(0)) + shares[0] / most
            continue
        for share in [sum(shares)] if row["kind"] == "sum" else shares:
            if most == 0:
                assert share == 0, row
            else:
                claims.append(share / most)
    return max([*claims, *ratios.values()], default=Fraction(0))


@seeds(0, 12, 40, 500)
def test_no_formula_breaks_a_rule_and_the_highest_dosage_is_where_it_would(seed: int) -> None:
    draft = draw(seed)
    if "limits.csv" not in draft.tables:
        pytest.skip("drawn without rules")
    try:
        study = draft.study()
        found = fit(study, Budget(seconds=5))
    except (InvalidInput, NoFormula, NoAnswer):
        pytest.skip("drawn so that there is no formula")
    amounts = dict(found.amounts)
    assert worst(draft, amounts, Fraction(8, 100)) <= 1 + NOISE
    safety = dosage(study, amounts)
    (highest,) = (each for each in safety.highest if each.product == "candle")
    if highest.accord == 0 or not highest.rule:
        return
    at = Fraction(highest.accord)
    assert abs(worst(draft, amounts, at) - 1) <= NOISE
    assert worst(draft, amounts, at * Fraction(10001, 10000)) > 1
    decides = {claim.label for claim in study.claims()}
    assert highest.rule in decides
    for total in safety.totals:
        value = total.share * highest.accord / 0.08
        assert value <= total.claim.most * (1 + 1e-9) + 1e-15
    mine = next(t for t in safety.totals if t.claim.label == highest.rule and t.share > 0)
    assert max(t.share * highest.accord / 0.08 / t.claim.most for t in safety.totals if t.claim.most) == pytest.approx(
        1, rel=1e-9
    ), mine
