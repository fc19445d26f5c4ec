"""Good duals for a certificate's leaves: what the exact engine's relaxations find, turned into fractions.

The engine's word counts for nothing here: the fractions prove what the closed form of `leaf` makes of them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np

from reaccord.certificate import format as file
from reaccord.certificate.maxima import Maxima
from reaccord.certificate.stated import programme_of
from reaccord.contract import FloatArray
from reaccord.solvers.exact.bound import Duals
from reaccord.solvers.exact.hull_layout import BoolArray
from reaccord.solvers.exact.model import Model
from reaccord.solvers.exact.node_qp import Node, solve_node
from reaccord.solvers.exact.row_hull import relax_hull
from reaccord.solvers.exact.scaled import FREE, OFF, ON, Scaled, State, cleaned, scale
from reaccord.solvers.farkas import hopeless


@dataclass(frozen=True)
class Found:
    """A relaxation: amounts (n,) at batch 1, its duals, what they prove in floats; if it is a row hull, its switches.

    `alone` are the parts of rows that stood alone in the last row hull above (see `row_hull`).
    """

    amounts: FloatArray
    duals: Duals
    bound: float
    switches: FloatArray | None = None
    alone: BoolArray | None = None


class Provider:
    """Relaxes states of one problem; `largest` are the maxima that the verifier grants."""

    def __init__(self, problem: file.Problem, largest: Maxima, accuracy: float) -> None:
        self.problem, self.accuracy = problem, accuracy
        programme = cleaned(programme_of(problem))
        scaled = scale(programme)
        maximum = np.array([math.inf if x is None else float(x) for x in largest]) / programme.batch_g
        maximum = np.where(maximum < scaled.minimum, 0.0, maximum)
        self.scaled: Scaled = replace(scaled, maximum=maximum)
        self.plain = Model(self.scaled)
        self._rows = np.flatnonzero((programme.factor[:, None] * programme.content).any(axis=1))
        self._factors = programme.factor[self._rows]
        self._sizes = _sizes(self.scaled, problem)

    def state(self, decided: Sequence[int]) -> State:
        """Return the engine's state: columns without a switch ON, other strengths of an opened one OFF."""
        state = np.array(decided, dtype=np.int8)
        state[(state == FREE) & ~self.scaled.switched] = ON
        state[(state != ON) & (self.scaled.maximum <= 0)] = OFF
        for strengths in self.scaled.groups:
            opened = [columns for columns in strengths if (state[columns] == ON).any()]
            for columns in strengths if opened else ():
                if columns is not opened[0]:
                    state[columns] = OFF
        return state

    def squares(self, state: State, near: Found | None) -> Found | None:
        """Return the state by a quadratic programme; None if none is left. `near` says which columns to begin with."""
        working = self.scaled.first_working() if near is None else near.amounts > 1e-12
        node: Node | None = solve_node(self.plain, state, working, self.accuracy)
        alone = None if near is None else near.alone
        return None if node is None else Found(node.amounts, node.duals, node.bound.value, alone=alone)

    def rows(self, state: State, near: Found) -> Found | None:
        """Return the state by the row hull, None if Clarabel finds nothing."""
        among = (near.amounts > 1e-12) | (state == FREE)
        hull = relax_hull(self.scaled, state, among, self.accuracy, near.alone)
        return None if hull is None else Found(hull.amounts, hull.duals, hull.bound.value, hull.switches, hull.alone)

    def contradictions(self, state: State) -> Iterator[file.Duals]:
        """Yield duals that exclude a state in which nothing is left, each stronger than the one before."""
        found = hopeless(self.scaled, state)
        if found is not None:
            mu, limits, over = found
            for strength in 10.0 ** np.arange(0, 16, 2) / over:
                duals = Duals(mu * strength, limits * strength, np.zeros(len(self.scaled.low)))
                yield self.fractions(duals)

    def fractions(self, duals: Duals) -> file.Duals:
        """Return levels as shares and duals per gram, in fractions, with their signs kept."""
        problem, levels = self.problem, [Fraction(0)] * len(self.problem.rows)
        for k, level in zip(self._rows.tolist(), (duals.levels / self._factors).tolist(), strict=True):
            levels[k] = max(Fraction(0), digits(level))
        return file.Duals(
            levels=tuple(levels),
            mu=digits(duals.mu) / problem.batch,
            limits=tuple(
                max(Fraction(0), digits(dual) / size)
                for dual, size in zip(duals.limits.tolist(), self._sizes, strict=True)
            ),
        )


def _sizes(scaled: Scaled, problem: file.Problem) -> list[Fraction]:
    """Return what the engine divided each limit row by."""
    sizes = []
    for limit, amounts, used in zip(problem.limits, scaled.amounts, scaled.used, strict=True):
        every = [*(a * problem.batch for a in limit.amounts), *limit.used]
        scaled_entries = np.abs(np.concatenate([amounts, used]))
        at = int(np.argmax(scaled_entries))
        largest = float(scaled_entries[at])
        sizes.append(digits(abs(float(every[at])) / largest) if largest > 0 else Fraction(1))
    return sizes


def digits(x: float) -> Fraction:
    """Return a float rounded to 16 digits."""
    return Fraction(f"{x:.15e}")
