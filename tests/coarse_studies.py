"""Seeded studies on so coarse a grid that every formula can be tried: what rounding is measured by. All invented."""

from __future__ import annotations

from typing import Any

import numpy as np
from tests.random_studies import Draft

from reaccord.contract import FloatArray, Programme

CARRIER = "dipropylene glycol"
MOST_FORMULAS = 1_000_000
Row = dict[str, Any]


def coarse(seed: int) -> Draft:
    """Return a study of two to four bottles, or of two and their dilutions, with one limit or another."""
    return _Coarse(seed).draft()


class _Coarse:
    """Draws one study from one generator; masses are whole steps of a fifth to a fortieth of the batch."""

    def __init__(self, seed: int) -> None:
        self.rng = np.random.default_rng((20261126, seed))
        self.names = [f"constituent {k:02d}" for k in range(int(self.rng.integers(2, 5)))]
        self.batch = float(self.rng.choice([1, 2, 3, 5]))
        self.step = float(f"{self.batch / self.rng.choice([5, 10, 20, 40]):.6g}")
        self.diluted = self.chance(0.3)
        self.count = int(self.rng.integers(2, 3 if self.diluted else 5))
        self.compositions: list[Row] = []

    def chance(self, part: float) -> bool:
        return bool(self.rng.random() < part)

    def steps(self, low: float, high: float) -> float:
        """Return a mass between parts of the batch, at least a step."""
        return float(f"{max(1, round(self.rng.uniform(low, high) * self.batch / self.step)) * self.step:.6g}")

    def draft(self) -> Draft:
        shares = self.rng.dirichlet(np.ones(len(self.names)) * 1.5)
        target: list[Row] = [
            {"constituent": n, "G1": f"{100 * s:.6g}"} for n, s in zip(self.names, shares, strict=True)
        ]
        if self.chance(0.15):
            target[0] |= {"low": f"{80 * shares[0]:.6g}", "high": f"{min(100, 120 * shares[0]):.6g}"}
        bottles = [self.bottle(k) for k in range(self.count)]
        settings: dict[str, dict[str, Any]] = {
            "target": {"table": "target.csv"},
            "shelf": {"bottles": "bottles.csv"},
            "batch": {"accord_g": self.batch},
            "balance": {"readability_g": self.step},
        }
        if self.chance(0.4):
            settings["balance"]["minimum_g"] = self.steps(0.02, 0.3)
        if self.diluted:
            bottles.append(self.dilute(settings))
        self.limit(settings, bottles)
        settings["fit"] = {
            "measure": str(self.rng.choice(["squares", "squares", "squares", "absolute", "worst"])),
            "scale": str(self.rng.choice(["proportional", "proportional", "equal"])),
        }
        tables = {"target.csv": target, "bottles.csv": bottles}
        if self.compositions:
            settings["shelf"]["compositions"] = "compositions.csv"
            tables["compositions.csv"] = self.compositions
        return Draft(settings, tables)

    def bottle(self, k: int) -> Row:
        """Return a single chemical, pure or not, or a blend of everything."""
        row: Row = {"material": f"M{k}", "price_per_kg": f"{self.rng.lognormal(3, 1):.2f}"}
        if k < len(self.names) and self.chance(0.6):
            purity = "100" if self.chance(0.6) else f"{self.rng.uniform(80, 99):.4g}"
            row |= {"constituent": self.names[k], "purity": purity}
        else:
            shares = self.rng.dirichlet(np.ones(len(self.names)) * 0.7) * self.rng.uniform(0.85, 0.96)
            parts = [(n, s) for n, s in zip(self.names, shares, strict=True) if s > 0.001]
            parts += [("stranger", 0.03)] if self.chance(0.3) else []
            self.compositions += [{"material": f"M{k}", "part": n, "share": f"{100 * s:.4g}"} for n, s in parts]
        row |= {"stock_g": f"{self.steps(0.1, 0.6):g}"} if self.chance(0.35) else {}
        row |= {"minimum_g": f"{self.steps(0.02, 0.3):g}"} if self.chance(0.2) else {}
        return row | ({"step_g": f"{2 * self.step:g}"} if self.chance(0.1) else {})

    def dilute(self, settings: dict[str, dict[str, Any]]) -> Row:
        settings["dilutions"] = {"strengths": ["50 %"], "carrier": CARRIER}
        settings["batch"]["carrier_max_g"] = self.steps(0.2, 1.0)
        row: Row = {"material": "Carrier", "constituent": CARRIER, "purity": "100", "price_per_kg": "4"}
        return row | ({"stock_g": f"{self.steps(0.5, 2.0):g}"} if self.chance(0.5) else {})

    def limit(self, settings: dict[str, dict[str, Any]], bottles: list[Row]) -> None:
        limits: dict[str, Any] = {}
        if self.chance(0.3):
            prices = [float(row["price_per_kg"]) for row in bottles]
            limits["cost_per_kg"] = round(float(np.quantile(prices, self.rng.uniform(0.4, 0.9))), 2)
        if self.chance(0.25):
            limits["lines"] = int(self.rng.integers(1, 4))
        if self.chance(0.15):
            limits["undeclared"] = f"{self.rng.uniform(3, 15):.3g} %"
        if self.chance(0.25):
            kind = str(self.rng.choice(["at_least_g", "at_most_g", "exactly_g"]))
            limits["amount"] = [{"material": f"M{self.rng.integers(0, self.count)}", kind: self.steps(0.05, 0.4)}]
        if limits:
            settings["limits"] = limits


def closest_of_all(programme: Programme, steps: FloatArray) -> float | None:
    """Return the least deviation of all formulas on the grid, infinite if none holds all limits.

    None if there are too many to try. The batch may be missed by a step for each line that holds some of it.
    """
    helpers = programme.helpers
    stocks = np.flatnonzero(~helpers)
    choices = [_counts(programme, steps, int(i)) for i in stocks]
    if any(counts is None for counts in choices) or np.prod([len(c) for c in choices if c is not None]) > MOST_FORMULAS:
        return None
    mesh = np.meshgrid(*(c for c in choices if c is not None), indexing="ij")
    formulas = np.zeros((len(programme.columns), mesh[0].size))
    formulas[stocks] = np.array([counts.ravel() for counts in mesh]) * steps[stocks, None]
    formulas = _held(programme, steps, formulas)
    if not formulas.shape[1]:
        return np.inf
    achieved = programme.content @ formulas / (programme.basis @ formulas)
    distance = achieved - np.clip(achieved, programme.low[:, None], programme.high[:, None])
    sizes = np.abs(programme.factor[:, None] * distance)
    of_all = {"squares": (sizes**2).sum(axis=0), "absolute": sizes.sum(axis=0), "worst": sizes.max(axis=0)}
    return float(of_all[programme.measure].min())


def _counts(programme: Programme, steps: FloatArray, stock: int) -> FloatArray | None:
    """Return how many steps of a stock there can be; None if nothing ends them."""
    most = float(programme.maximum[stock])
    if programme.basis[stock] > 1e-9:
        most = min(most, (programme.batch_g + float(steps.sum())) / float(programme.basis[stock]))
    for row in programme.limits:
        if row.key.kind == "carrier" and row.amounts[stock] > 1e-9:
            most = min(most, row.most / float(row.amounts[stock]))
    if np.isinf(most):
        return None
    least = np.ceil(max(programme.minimum[stock], steps[stock]) / steps[stock] - 1e-9)
    return np.array([0.0, *np.arange(least, np.floor(most / steps[stock] + 1e-9) + 1)])


def _held(programme: Programme, steps: FloatArray, formulas: FloatArray) -> FloatArray:
    """Return the formulas (n, count) that hold the batch and every limit, helper columns filled in."""
    used = (formulas > 0).astype(float)
    basis, allowed = programme.basis @ formulas, (steps * (programme.basis > 0)) @ used
    kept = (np.abs(basis - programme.batch_g) <= allowed * (1 + 1e-9)) & (basis > 0)
    for strengths in programme.strengths:
        kept &= sum(used[list(columns)].any(axis=0).astype(int) for columns in strengths) <= 1
    formulas, used = formulas[:, kept], used[:, kept]
    for column in np.flatnonzero(programme.helpers):
        rows = [row for row in programme.limits if row.amounts[column] == -1.0]
        needs = [row.amounts @ formulas + row.used @ used - row.most for row in rows]
        formulas[column] = np.maximum(np.max(needs, axis=0), 0.0)
    kept = np.ones(formulas.shape[1], dtype=bool)
    for row in programme.limits:
        stands = row.amounts @ formulas + row.used @ used
        kept &= stands - row.most <= 1e-9 * np.maximum(np.abs(row.amounts) @ formulas + abs(row.most), 1e-9)
    return np.asarray(formulas[:, kept])
