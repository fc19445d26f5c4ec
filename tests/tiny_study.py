"""Studies small enough to reckon by hand: two constituents, red and green, 60 to 40, a bottle of each. Invented."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from tests.random_studies import Draft

from reaccord.domain.study import Study

Row = dict[str, Any]
RED: Row = {"material": "Red", "constituent": "red", "purity": "100", "price_per_kg": "10"}
GREEN: Row = {"material": "Green", "constituent": "green", "purity": "100", "price_per_kg": "50"}
CARRIER: Row = {"material": "Carrier", "constituent": "dipropylene glycol", "purity": "100", "price_per_kg": "4"}
OIL = {"material": "Oil", "price_per_kg": "20"}
OIL_PARTS = (
    {"material": "Oil", "part": "red", "share": "60", "low": "50", "high": "70"},
    {"material": "Oil", "part": "green", "share": "40"},
)
RULE: Row = {"product": "soap", "authority": "house rule (invented)"}


def tiny(
    bottles: Sequence[Row] = (RED, GREEN),
    *,
    rows: Mapping[str, str] | Sequence[Row] = {"red": "60", "green": "40"},
    compositions: Sequence[Row] = (),
    rules: Sequence[Row] = (),
    **sections: Mapping[str, Any],
) -> Study:
    """Return a study of 10 g without a balance; `rows` are the target's, other keywords sections of the study file."""
    settings: dict[str, dict[str, Any]] = {
        "target": {"table": "target.csv"},
        "shelf": {"bottles": "bottles.csv"},
        "batch": {"accord_g": 10},
    }
    if isinstance(rows, Mapping):
        rows = [{"constituent": name, "analysis": share} for name, share in rows.items()]
    tables: dict[str, list[Row]] = {"target.csv": list(rows), "bottles.csv": list(bottles)}
    if compositions:
        settings["shelf"]["compositions"] = "compositions.csv"
        tables["compositions.csv"] = list(compositions)
    for name, section in sections.items():
        settings[name] = settings.get(name, {}) | dict(section)
    if rules:
        tables["limits.csv"] = [RULE | row for row in rules]
        product = {"table": "limits.csv", "product": "soap", "dosage": "2 %"}
        settings["limits"] = product | settings.get("limits", {})
    return Draft(settings, tables).study()
