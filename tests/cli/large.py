"""A study too large to be proven at once: 160 bottles, most of them naturals that share constituents. All invented."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np

CONSTITUENTS = [f"constituent {number:02d}" for number in range(60)]
STUDY = """title = "Large"
date = 2026-11-25
[target]
table = "target.csv"
[shelf]
bottles = "bottles.csv"
compositions = "compositions.csv"
constituents = "constituents.csv"
[batch]
accord_g = 10
[balance]
readability_g = 0.01
minimum_g = 0.2
[limits]
lines = 14
cost_per_kg = 90
"""


def write_large(folder: Path, *, naturals: int = 130, singles: int = 30, seed: int = 7) -> Path:
    """Write the study; return the study file."""
    rng = np.random.default_rng((20261125, seed))
    shares = rng.lognormal(0, 1.2, len(CONSTITUENTS))
    shares *= 0.95 / shares.sum()
    target = [
        {"constituent": name, "S1": f"{100 * share:.5g}"} for name, share in zip(CONSTITUENTS, shares, strict=True)
    ]
    bottles, compositions = [], []
    for number in range(naturals):
        material = f"Natural {number:03d}"
        parts = rng.choice(len(CONSTITUENTS), 8, replace=False)
        for part, share in zip(parts, rng.dirichlet(np.ones(8)) * 0.96, strict=True):
            compositions.append({"material": material, "part": CONSTITUENTS[part], "share": f"{100 * share:.5g}"})
        bottles.append({"material": material, "price_per_kg": f"{rng.lognormal(4.4, 0.7):.2f}"})
    for number in range(singles):
        name = CONSTITUENTS[2 * number]
        price = f"{rng.lognormal(4.6, 0.7):.2f}"
        bottles.append({"material": f"Single {number:02d}", "constituent": name, "purity": "97", "price_per_kg": price})
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "study.toml").write_text(STUDY, encoding="utf-8")
    known = [{"constituent": name} for name in CONSTITUENTS]
    tables = {"target": target, "bottles": bottles, "compositions": compositions, "constituents": known}
    for name, rows in tables.items():
        _write(folder / f"{name}.csv", rows)
    return folder / "study.toml"


def _write(path: Path, rows: list[dict[str, str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, list(dict.fromkeys(key for row in rows for key in row)), restval="")
        writer.writeheader()
        writer.writerows(rows)
