"""A seeded invented study of any size, as tables: a third of its bottles naturals, the others single chemicals."""

from __future__ import annotations

from typing import Any

import numpy as np
from tests.random_studies import CARRIER, CARRIER_BOTTLE, Draft

Row = dict[str, Any]


def large(constituents: int, bottles: int, seed: int, strengths: tuple[str, ...] = ("10 %", "1 %")) -> Draft:
    """Return a study with twenty constituents a natural, prices, rules of every kind, and dilutions to make."""
    rng = np.random.default_rng((20261127, seed))
    names = [f"constituent {k:03d}" for k in range(constituents)]
    named = names[: max(3, constituents // 2)]
    shares = rng.lognormal(0.0, 1.2, len(named))
    shares *= 95 / shares.sum()
    target: list[Row] = [
        {"constituent": name, "S1": f"{share:.6g}", "S2": f"{share * rng.uniform(0.8, 1.2):.6g}"}
        for name, share in zip(named, shares, strict=True)
    ]
    naturals = bottles // 3
    shelf: list[Row] = [{"material": CARRIER_BOTTLE, "constituent": CARRIER, "purity": "100", "price_per_kg": "4"}]
    shelf[0]["stock_g"] = "500"
    compositions: list[Row] = []
    for number in range(bottles - naturals - 1):
        name = names[number % constituents]
        row = {"material": f"Pure {number:03d}", "constituent": name, "purity": f"{rng.uniform(90, 100):.4g}"}
        shelf.append(row | {"price_per_kg": f"{rng.lognormal(4, 1):.2f}"})
    for number in range(naturals):
        material = f"Natural {number:03d}"
        parts = rng.choice(constituents, min(20, constituents), replace=False)
        held = rng.lognormal(0.0, 1.5, len(parts))
        held *= rng.uniform(80, 99) / held.sum()
        compositions += [
            {"material": material, "part": names[k], "share": f"{share:.6g}"}
            for k, share in zip(parts, held, strict=True)
        ]
        shelf.append({"material": material, "price_per_kg": f"{rng.lognormal(5, 1):.2f}", "stock_g": "20"})
    kinds = ("each", "sum", "prohibited")
    limits: list[Row] = [
        {"rule": f"Rule {k}", "product": "candle", "kind": kinds[k % 3], "members": "; ".join(names[k : k + 3])}
        | {"max": "5"}
        for k in range(min(30, constituents - 3))
    ]
    settings: dict[str, dict[str, Any]] = {
        "target": {"table": "target.csv"},
        "shelf": {"bottles": "bottles.csv", "compositions": "compositions.csv"},
        "batch": {"accord_g": 10, "carrier_max_g": 40},
        "balance": {"readability_g": 0.001, "minimum_g": 0.02},
        "dilutions": {"strengths": list(strengths), "carrier": CARRIER},
        "limits": {"cost_per_kg": 120.0, "table": "limits.csv", "product": "candle", "dosage": "8 %"},
    }
    tables = {"target.csv": target, "bottles.csv": shelf, "compositions.csv": compositions, "limits.csv": limits}
    return Draft(settings, tables)
