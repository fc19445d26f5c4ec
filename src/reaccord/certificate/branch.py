"""Which column or material a certificate's tree branches on, and the children's states."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reaccord.certificate.duals import Found, Provider
from reaccord.certificate.leaf import FREE, OFF, ON, State
from reaccord.certificate.verify import decide
from reaccord.contract import FloatArray
from reaccord.solvers.exact import scaled as engine

TRIED = 6
LITTLE = 1e-12
UNDECIDED = 1e-5


@dataclass(frozen=True)
class Branching:
    """A branching of the tree: on a column (`off`, `on`) or on a material (`none`, `only` each strength).

    `states` are its children in that order, None where nothing is left; `near` what was found for each.
    """

    column: int | None
    material: int | None
    states: tuple[State | None, ...]
    near: tuple[Found | None, ...]


def best_branching(provider: Provider, state: State, near: Found, target: float) -> Branching | None:
    """Return the branching that promises most for a node with the relaxation `near`, None if nothing is free."""
    columns = candidates(provider, state, near)
    relax = provider.squares if near.switches is None else provider.rows
    best: Branching | None = None
    best_score, tried = -1.0, set[int]()
    for column in columns.tolist():
        branching = children(provider, state, column)
        if branching.material is not None and branching.material in tried:
            continue
        found, bounds = [], []
        for child in branching.states:
            there = None if child is None else relax(provider.state(child), near)
            found.append(there)
            bounds.append(target if there is None else min(there.bound, target))
        rises = [max(bound - near.bound, LITTLE) for bound in bounds]
        score = rises[0] * min(rises[1:])
        if score > best_score:
            best = Branching(branching.column, branching.material, branching.states, tuple(found))
            best_score = score
        tried.add(-1 - column if branching.material is None else branching.material)
        if len(tried) >= TRIED or min(bounds) >= target:
            break
    return best


def candidates(provider: Provider, state: State, near: Found) -> NDArray[np.int_]:
    """Return the columns to branch on, the most promising first: those whose switch the relaxation breaks."""
    scaled, amounts = provider.scaled, near.amounts
    free = (np.asarray(state) == FREE) & (provider.state(state) == engine.FREE)
    part = np.clip(amounts / np.maximum(scaled.minimum, LITTLE), 0.0, 1.0)
    if near.switches is not None:
        part = near.switches
    crowded = free & (amounts > LITTLE) & _crowded(scaled, amounts)
    for chosen in ((part > UNDECIDED) & (part < 1 - UNDECIDED), crowded, amounts > LITTLE, np.ones_like(free)):
        if (free & chosen).any():
            columns = np.flatnonzero(free & chosen)
            break
    else:
        return np.zeros(0, dtype=np.int_)
    curve = (scaled.content**2).sum(axis=0) * np.maximum(scaled.minimum, amounts) ** 2
    promise = curve * np.maximum(part * (1 - part), 0.01)
    return columns[np.argsort(-promise[columns], kind="stable")]


def _crowded(scaled: engine.Scaled, amounts: FloatArray) -> NDArray[np.bool_]:
    """Return the columns of materials used in several strengths, and those that some limit counts."""
    crowded = np.asarray(scaled.used.any(axis=0))
    for strengths in scaled.groups:
        if sum(bool((amounts[columns] > LITTLE).any()) for columns in strengths) > 1:
            crowded[np.concatenate(strengths)] = True
    return crowded


def children(provider: Provider, state: State, column: int) -> Branching:
    """Return the branching on a column, or on its material where lines count and several strengths are left."""
    groups = provider.problem.strengths
    material = next((g for g, strengths in enumerate(groups) if any(column in s for s in strengths)), None)
    if material is not None and provider.scaled.count_row is not None:
        left = [any(state[i] == FREE for i in columns) for columns in groups[material]]
        if sum(left) > 1:
            return Branching(None, material, tuple(by_strength(state, groups[material])), ())
    return Branching(column, None, (decide(state, [column], OFF), decide(state, [column], ON)), ())


def by_strength(state: State, strengths: Sequence[Sequence[int]]) -> list[State | None]:
    """Return the states in which none of the strengths is used, only the first, only the second ..."""
    states = [decide(state, [i for columns in strengths for i in columns], OFF)]
    for only in strengths:
        further = decide(state, [i for columns in strengths if columns is not only for i in columns], OFF)
        if further is not None and len(only) == 1:
            further = decide(further, only, ON)
        states.append(further)
    return states
