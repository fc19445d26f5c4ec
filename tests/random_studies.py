"""Seeded random small studies, from TOML text and frames: every kind of limit, row and bottle occurs often.

`draw(seed)` gives a `Draft`, which tests change (shuffle, scale, add a bottle) before they read it as a study.
All data are invented. Some drafts allow no formula, on purpose.
"""

from __future__ import annotations

import copy
import csv
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from reaccord.domain.study import Study
from reaccord.study.load import study_from_frames

CARRIER, CARRIER_BOTTLE = "dipropylene glycol", "Carrier"
Row = dict[str, Any]

KEYS_OF = {
    "cost": ("limits", "cost_per_kg"),
    "lines": ("limits", "lines"),
    "undeclared": ("limits", "undeclared"),
    "dosage": ("limits", "dosage"),
    "carrier": ("batch", "carrier_max_g"),
    "batch": ("batch", "accord_g"),
    "dilutions": ("dilutions", "most"),
}
"""Section and key of a study file that say the limits of each kind."""


@dataclass
class Draft:
    """A study in the making: sections of the study file and rows of each table, cells as text."""

    settings: dict[str, dict[str, Any]]
    tables: dict[str, list[Row]]

    def copy(self) -> Draft:
        return copy.deepcopy(self)

    def text(self) -> str:
        """Return the study file."""
        lines = ['title = "drawn"', "date = 2026-11-25"]
        for name, section in self.settings.items():
            lines.append(f"[{name}]")
            lines += [f"{key} = {_toml(value)}" for key, value in section.items() if key != "amount"]
            for amount in section.get("amount", []):
                lines += ["[[limits.amount]]", *(f"{key} = {_toml(value)}" for key, value in amount.items())]
        return "\n".join(lines) + "\n"

    def frames(self) -> dict[str, pd.DataFrame]:
        return {name: pd.DataFrame(rows) for name, rows in self.tables.items()}

    def write(self, folder: Path) -> Path:
        """Write a study to disk; return its study file."""
        folder.mkdir()
        (folder / "study.toml").write_text(self.text(), encoding="utf-8")
        write_tables(self.tables, folder)
        return folder / "study.toml"

    def study(self) -> Study:
        return study_from_frames(self.text(), self.frames())

    def shuffled(self, seed: int) -> Draft:
        """Return the same tables with rows, columns, sections and lists in another order."""
        rng = np.random.default_rng(seed)
        mixed = self.copy()
        for name, rows in mixed.tables.items():
            columns = list(dict.fromkeys(key for row in rows for key in row))
            rng.shuffle(columns)
            mixed.tables[name] = [{key: rows[i].get(key) for key in columns} for i in rng.permutation(len(rows))]
        for section in mixed.settings.values():
            for value in section.values():
                if isinstance(value, list) and value and not isinstance(value[0], dict):
                    rng.shuffle(value)
        if "amount" in mixed.settings.get("limits", {}):
            rng.shuffle(mixed.settings["limits"]["amount"])
        names = list(mixed.settings)
        rng.shuffle(names)
        mixed.settings = {name: mixed.settings[name] for name in names}
        return mixed


def write_tables(tables: dict[str, list[Row]], folder: Path) -> None:
    """Write tables to disk as CSV."""
    for name, rows in tables.items():
        with (folder / name).open("w", encoding="utf-8", newline="") as stream:
            writer = csv.DictWriter(stream, list(dict.fromkeys(key for row in rows for key in row)))
            writer.writeheader()
            writer.writerows(rows)


def _toml(value: Any) -> str:
    if isinstance(value, list):
        return "[" + ", ".join(_toml(item) for item in value) + "]"
    return f'"{value}"' if isinstance(value, str) else repr(value)


def draw(seed: int, *, measure: str | None = None, balance: bool | None = None) -> Draft:
    """Return a random study; `measure` and `balance` leave less to chance."""
    return _Drawing(seed, measure, balance).draft


def _percent(share: float) -> str:
    return f"{100 * share:.6g}"


class _Drawing:
    """Draws one study, piece by piece, from one generator."""

    def __init__(self, seed: int, measure: str | None, balance: bool | None) -> None:
        self.rng = np.random.default_rng((20261125, seed))
        self.batch = float(self.rng.choice([1.0, 10.0, 100.0]))
        self.readability = self.batch * float(self.rng.choice([0.001, 0.0001]))
        self.universe = [f"constituent {k:02d}" for k in range(int(self.rng.integers(6, 13)))]
        self.wanted = self.universe[: max(3, round(0.65 * len(self.universe)))]
        self.open = self.chance(0.15)
        self.bottles: list[Row] = []
        self.compositions: list[Row] = []
        self.limits: list[Row] = []
        self.singles: list[str] = []
        self.naturals: list[str] = []
        self.blends: list[str] = []
        self.settings: dict[str, dict[str, Any]] = {}
        self.settings["target"] = {"table": "target.csv"}
        target = self.target()
        self.shelf()
        self.settings["shelf"] = {"bottles": "bottles.csv"}
        if self.compositions:
            self.settings["shelf"]["compositions"] = "compositions.csv"
        self.settings["batch"] = {"accord_g": self.batch}
        if self.chance(0.4):
            self.settings["batch"]["carrier_max_g"] = self.grams(0.05, 2.0)
        if self.chance(0.85) if balance is None else balance:
            self.settings["balance"] = self.balance()
        if self.chance(0.5):
            strengths = ["10 %", "1 %"] if self.chance(0.5) else ["10 %"]
            self.settings["dilutions"] = {"strengths": strengths, "carrier": CARRIER}
            if seed % 5 == 0:  # no draw of its own: the other studies stay what they were
                self.settings["dilutions"]["most"] = 1
        self.limit_settings()
        self.settings["fit"] = {
            "measure": measure or str(self.rng.choice(["squares", "squares", "squares", "absolute", "worst"])),
            "scale": str(self.rng.choice(["proportional", "proportional", "equal", "relative"])),
        }
        tables = {"target.csv": target, "bottles.csv": self.bottles}
        tables |= {"compositions.csv": self.compositions} if self.compositions else {}
        self.draft = Draft(self.settings, tables | ({"limits.csv": self.limits} if self.limits else {}))

    def chance(self, part: float) -> bool:
        return bool(self.rng.random() < part)

    def grams(self, low: float, high: float) -> float:
        """Return a mass between parts of the batch, on the balance's grid."""
        steps = round(self.rng.uniform(low, high) * self.batch / self.readability)
        return float(f"{max(steps, 1) * self.readability:.10g}")

    def balance(self) -> dict[str, Any]:
        found: dict[str, Any] = {"readability_g": self.readability}
        if self.chance(0.6):
            found["minimum_g"] = self.grams(0.002, 0.03)
        elif self.chance(0.7):
            found |= {"tolerance": "5 %", "repeatability_g": self.readability}
        return found

    def target(self) -> list[Row]:
        """Return the target's rows: shares, groups, traces, not detected, bands, weights, a second sample."""
        samples = ["S1", "S2"] if self.chance(0.3) else ["S1"]
        if len(samples) > 1 and self.chance(0.5):
            self.settings["target"]["combine"] = "band"
        if self.open:
            self.settings["target"]["rest"] = "open"
        count = len(self.wanted)
        shares = self.rng.lognormal(0, 1.2, count)
        shares *= self.rng.uniform(0.6, 0.97) / shares.sum()
        grouped = count > 4 and self.chance(0.3)
        names = [*self.wanted[:-2], " + ".join(self.wanted[-2:])] if grouped else self.wanted
        rows = []
        for k, name in enumerate(names):
            row: Row = {"constituent": name, "weight": "3" if self.chance(0.15) else None}
            for sample in samples:
                row[sample] = _percent(shares[k] * self.rng.uniform(0.9, 1.0))
            if k and self.chance(0.1):
                row |= dict.fromkeys(samples, "tr" if self.chance(0.5) else "nd")
            elif k and self.chance(0.2):
                row |= {"low": _percent(0.8 * shares[k]), "high": _percent(min(1.0, 1.3 * shares[k]))}
                row |= dict.fromkeys(samples, None) if self.chance(0.5) else {}
            rows.append(row)
        return rows

    def shelf(self) -> None:
        """Fill the shelf: singles, naturals, blends, blends in blends, lots, bought dilutions, a carrier."""
        for name in self.universe:
            if self.chance(0.7):
                self.single(name)
        for k in range(int(self.rng.integers(1, 4))):
            self.natural(f"Natural {k}")
        for k in range(int(self.rng.integers(0, 3))):
            self.blend(f"Blend {k}")
        carrier: Row = {"constituent": CARRIER, "purity": "100", "price_per_kg": "6"}
        if self.chance(0.4):
            carrier["stock_g"] = repr(self.grams(0.05, 0.8))
        self.bottles.append({"material": CARRIER_BOTTLE} | carrier)

    def single(self, name: str) -> None:
        material = name.replace("constituent", "Single")
        purity = float(self.rng.uniform(0.88, 1.0)) if self.chance(0.8) else 1.0
        form: Row = {"material": material, "constituent": name, "purity": _percent(purity)}
        if purity < 0.97 and self.chance(0.6):
            other = str(self.rng.choice([other for other in self.universe if other != name]))
            self.part(material, other, 0.6 * (1 - purity))
        self.singles.append(material)
        self.bottles_of(material, form)

    def part(self, material: str, part: str, share: float, **more: str) -> None:
        row: Row = {"material": material, "part": part, "share": _percent(share)} | more
        if not more and part != "undeclared" and self.chance(0.3):
            row |= {"low": _percent(0.7 * share), "high": _percent(min(1.0, 1.3 * share))}
        self.compositions.append(row)

    def natural(self, material: str) -> None:
        count = int(self.rng.integers(3, len(self.universe) + 1))
        parts = self.rng.choice(self.universe, count, replace=False)
        shares = self.rng.lognormal(0, 1.3, count)
        shares *= self.rng.uniform(0.8, 1.0) / shares.sum()
        for part, share in zip(parts, shares, strict=True):
            self.part(material, str(part), float(share))
        if self.chance(0.4):
            self.compositions[-1] |= {"share": "tr", "low": None, "high": None}
        elif self.chance(0.4):
            self.part(material, "undeclared", 1 - float(shares.sum()))
        self.naturals.append(material)
        self.bottles_of(material, {"material": material})

    def blend(self, material: str) -> None:
        known = [*self.singles, *self.naturals, *self.blends]
        parts = self.rng.choice(known, min(int(self.rng.integers(2, 4)), len(known)), replace=False)
        shares = self.rng.dirichlet(np.ones(len(parts)) * 2)
        for k, (part, share) in enumerate(zip(parts, shares, strict=True)):
            more = {"strength": "10", "carrier": CARRIER} if k == 0 and self.chance(0.3) else {}
            self.part(material, str(part), float(share), part_kind="material", **more)
        self.blends.append(material)
        self.bottles_of(material, {"material": material}, unpriced=self.chance(0.5))

    def bottles_of(self, material: str, form: Row, *, unpriced: bool = False) -> None:
        """Add one to three bottles of a material: neat, another lot, a bought dilution."""
        price = None if unpriced else f"{self.rng.lognormal(4, 1):.2f}"
        first: Row = form | {"price_per_kg": price, "lot": "A"}
        if self.chance(0.35):
            first["stock_g"] = repr(self.grams(0.01, 0.4))
        if self.chance(0.15):
            first["minimum_g"] = repr(self.grams(0.01, 0.05))
        if self.chance(0.1):
            first["step_g"] = repr(float(f"{5 * self.readability:.6g}"))
        self.bottles.append(first)
        if self.chance(0.15):
            self.bottles.append(form | {"price_per_kg": price, "lot": "B", "stock_g": repr(self.grams(0.05, 0.5))})
        if self.chance(0.15):
            diluted = {"strength": "10", "carrier": CARRIER, "price_per_kg": "9"}
            self.bottles.append(form | diluted)

    def limit_settings(self) -> None:
        limits: dict[str, Any] = {}
        if self.chance(0.35):
            prices = [float(row["price_per_kg"]) for row in self.bottles if row.get("price_per_kg")]
            limits["cost_per_kg"] = round(float(np.quantile(prices, self.rng.uniform(0.3, 0.8))), 2)
        if self.chance(0.3):
            limits["lines"] = int(self.rng.integers(2, 6))
        if self.chance(0.3):
            limits["undeclared"] = f"{self.rng.uniform(1, 12):.3g} %"
        if self.chance(0.2):
            limits["exclude"] = [str(self.rng.choice([*self.singles, *self.naturals]))]
        if self.chance(0.4):
            self.amounts(limits)
        if self.chance(0.5):
            limits |= {"table": "limits.csv", "product": "candle", "dosage": "8 %"}
            self.rules()
        if self.chance(0.06):
            limits["cost_per_kg"] = 0.01
        if limits:
            self.settings["limits"] = limits

    def amounts(self, limits: dict[str, Any]) -> None:
        scarce = {r["material"] for r in self.bottles if float(r.get("stock_g") or self.batch) < 0.1 * self.batch}
        away = scarce | set(limits.get("exclude", []))
        free = [m for m in (*self.singles, *self.naturals, *self.blends) if m not in away]
        chosen = self.rng.choice(free, min(len(free), int(self.rng.integers(1, 3))), replace=False)
        limits["amount"] = []
        for material in chosen:
            kind = str(self.rng.choice(["at_least_g", "at_most_g", "exactly_g"]))
            five = 5 * self.readability
            grams = float(f"{max(1, round(self.grams(0.03, 0.3) / five)) * five:.10g}")
            limits["amount"].append({"material": str(material), kind: grams})

    def rules(self) -> None:
        """Draw rules of every kind; ceilings near what the target would bring."""
        kinds = ["each", "sum", "ratio", "prohibited"]
        known = {row["part"] for row in self.compositions} | {row.get("constituent") for row in self.bottles}
        named = [name for name in self.universe if name in known or name in self.wanted]
        for k in range(int(self.rng.integers(1, 4))):
            kind = str(self.rng.choice(kinds))
            members = [str(m) for m in self.rng.choice(named, 2, replace=False)]
            if self.chance(0.3):
                members[0] = str(self.rng.choice([*self.naturals, *self.singles]))
            most = f"{100 * 0.08 * self.rng.uniform(0.02, 0.5):.4g}"
            row: Row = {"rule": f"Rule {k}", "product": "any" if self.chance(0.3) else "candle", "kind": kind}
            if kind == "ratio":
                self.limits += [row | {"members": m, "max": most} for m in members]
            elif kind == "prohibited":
                self.limits.append(row | {"members": members[0], "max": most if self.chance(0.6) else None})
            else:
                self.limits.append(row | {"members": "; ".join(members), "max": most})
        self.limits.append({"rule": "Other", "product": "candle", "kind": "sum", "members": CARRIER, "max": "60"})


def amounts_for(study: Study, seed: int) -> dict[Any, float]:
    """Return a random formula over the study's stocks, gram by stock, on the grid of each where it has one."""
    rng = np.random.default_rng((3, seed))
    count = min(len(study.stocks), int(rng.integers(1, 7)))
    chosen = rng.choice(len(study.stocks), count, replace=False)
    amounts = {}
    for i in chosen:
        stock = study.stocks[int(i)]
        step = stock.step_g or study.settings.batch.accord_g * 1e-3
        amounts[stock.key] = float(f"{int(rng.integers(1, 400)) * step:.12g}")
    return amounts
