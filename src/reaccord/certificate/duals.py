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
from reaccord.solvers.exact.model import Model
from reaccord.solvers.exact.node_qp import Node, solve_node
from reaccord.solvers.exact.row_relaxation import relax_rows
from reaccord.solvers.exact.scaled import FREE, OFF, ON, Scaled, State, cleaned, scale
from reaccord.solvers.farkas import hopeless

MOST_SPLIT = 0.995
"""Splitting a row wholly leaves a quadratic programme singular."""


@dataclass(frozen=True)
class Found:
    """A relaxation: amounts (n,) at batch 1, its duals, what they prove in floats, switches if it has any."""

    amounts: FloatArray
    duals: Duals
    bound: float
    switches: FloatArray | None = None


class Provider:
    """Relaxes states of one problem; `largest` are the maxima that the verifier grants."""

    def __init__(self, problem: file.Problem, largest: Maxima, accuracy: float) -> None:
        self.problem, self.accuracy = problem, accuracy
        programme = cleaned(programme_of(problem))
        scaled = scale(programme)
        maximum = np.array([math.inf if x is None else float(x) for x in largest]) / programme.batch_g
        maximum = np.where(maximum < scaled.minimum, 0.0, maximum)
        self.scaled: Scaled = replace(scaled, maximum=maximum)
        self.plain = Model.plain(self.scaled)
        self._rows = np.flatnonzero((programme.factor[:, None] * programme.content).any(axis=1))
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

    def squares(self, state: State, near: Found | None, theta: FloatArray | None = None) -> Found | None:
        """Return the state by a quadratic programme, every square as it is or split by `theta`; None if none is left.

        `near` says which columns to begin with.
        """
        model = self.plain if theta is None else Model(self.scaled, np.minimum(theta, MOST_SPLIT))
        working = self.scaled.first_working() if near is None else near.amounts > 1e-12
        node: Node | None = solve_node(model, state, working, self.accuracy)
        return None if node is None else Found(node.amounts, node.duals, node.bound.value)

    def rows(self, state: State, near: Found) -> Found | None:
        """Return the state by the row relaxation, None if Clarabel finds nothing."""
        relaxed = relax_rows(self.scaled, state, (near.amounts > 1e-12) | (state == FREE), self.accuracy)
        if relaxed is None:
            return None
        return Found(relaxed.amounts, relaxed.duals, relaxed.bound.value, relaxed.switches)

    def contradictions(self, state: State) -> Iterator[file.Duals]:
        """Yield duals that exclude a state in which nothing is left, each stronger than the one before."""
        found = hopeless(self.scaled, state)
        if found is not None:
            mu, limits, over = found
            for strength in 10.0 ** np.arange(0, 16, 2) / over:
                duals = Duals(mu * strength, limits * strength, np.zeros(len(self.scaled.low)))
                yield self.fractions(np.zeros(len(state)), duals)

    def fractions(self, amounts: FloatArray, duals: Duals) -> file.Duals:
        """Return point and duals in fractions, per gram, with their signs and ranges kept."""
        problem = self.problem
        theta = [Fraction(0)] * len(problem.rows)
        for k, part in zip(self._rows.tolist(), duals.theta.tolist(), strict=True):
            theta[k] = min(max(decimal(part, 12), Fraction(0)), Fraction(1))
        return file.Duals(
            point=tuple(max(Fraction(0), decimal(x, 15)) * problem.batch for x in amounts.tolist()),
            theta=tuple(theta),
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


def decimal(x: float, places: int) -> Fraction:
    """Return a float rounded to decimal places."""
    return Fraction(f"{x:.{places}f}")


def digits(x: float) -> Fraction:
    """Return a float rounded to 16 digits."""
    return Fraction(f"{x:.15e}")
