"""Formulas one step away: what dropping, adding or swapping a column would bring, by the KKT matrix."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from reaccord.contract import FloatArray
from reaccord.solvers.exact.formula import BoolArray, Formula
from reaccord.solvers.exact.model import Model

EACH, PAIRS = 10, 7


class Moves(NamedTuple):
    """Estimated change of the value when a column is dropped or added, each (n,); infinite: cannot be."""

    drop: FloatArray
    add: FloatArray


def estimated(model: Model, formula: Formula, batch_g: float) -> Moves:
    """Return the estimates at a formula, from second order around it with the active limits held."""
    scaled = model.scaled
    x = formula.amounts / batch_g
    count = int(formula.support.sum())
    columns = np.flatnonzero(formula.support)
    tight = np.flatnonzero(formula.point.duals[1:])
    rows = np.vstack([scaled.basis, scaled.amounts[tight]])
    free = columns[formula.point.bounds[:count] == 0]
    cost = _reduced(model, formula, x)
    inverse = _inverse(scaled.products.hessian(free), rows[:, free])
    across = np.vstack([scaled.products.across(free), rows])
    curvature = scaled.products.curvature - np.einsum("ij,ij->j", across, inverse @ across)
    curvature = np.maximum(curvature, 1e-9 * scaled.products.curvature + 1e-15)
    drop = -cost * x + 0.5 * curvature * x**2
    drop[free] = 0.5 * x[free] ** 2 / np.maximum(np.diag(inverse)[: len(free)], 1e-15)
    drop[~formula.support | scaled.helpers] = np.inf
    at = np.clip(-cost / curvature, scaled.minimum, scaled.maximum)
    add = np.where(
        formula.support | scaled.helpers | (scaled.maximum <= 0), np.inf, cost * at + 0.5 * curvature * at**2
    )
    return Moves(drop, add)


def _reduced(model: Model, formula: Formula, x: FloatArray) -> FloatArray:
    scaled, duals = model.scaled, formula.point.duals
    gradient = scaled.products.weighed(2.0 * scaled.distance(x))
    return np.asarray(gradient + duals[0] * scaled.basis + scaled.limits.priced(duals[1:]))


def _inverse(square: FloatArray, rows: FloatArray) -> FloatArray:
    """Return the inverse of the KKT matrix, slightly raised so that it exists."""
    size = len(square)
    system = np.block([[square, rows.T], [rows, -1e-9 * np.eye(len(rows))]])
    system[np.arange(size), np.arange(size)] += 1e-9 * (np.diag(square) + 1e-6)
    try:
        return np.asarray(np.linalg.inv(system))
    except np.linalg.LinAlgError:
        return np.asarray(np.linalg.pinv(system))


def supports(moves: Moves, formula: Formula) -> list[tuple[float, BoolArray]]:
    """Return the most promising supports one step away with their estimates, the best first."""
    drops, adds = np.argsort(moves.drop, kind="stable")[:EACH], np.argsort(moves.add, kind="stable")[:EACH]
    drops, adds = drops[np.isfinite(moves.drop[drops])], adds[np.isfinite(moves.add[adds])]
    found = [(float(moves.drop[i]), _changed(formula.support, (), (i,))) for i in drops]
    found += [(float(moves.add[j]), _changed(formula.support, (j,), ())) for j in adds]
    found += [
        (float(moves.drop[i] + moves.add[j]), _changed(formula.support, (j,), (i,)))
        for i in drops[:PAIRS]
        for j in adds[:PAIRS]
    ]
    return sorted(found, key=lambda pair: pair[0])


def _changed(support: BoolArray, added: tuple[int, ...], dropped: tuple[int, ...]) -> BoolArray:
    changed = support.copy()
    changed[list(added)], changed[list(dropped)] = True, False
    return changed
