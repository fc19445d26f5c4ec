"""A programme with a linear measure as HiGHS takes it: columns, rows, bounds."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from reaccord.contract import FloatArray, Programme
from reaccord.findings import SolverFault
from reaccord.solvers.quiet import quiet
from reaccord.solvers.switching import BoolArray, Switches

UNIT = 0.01
"""Deviations are counted in hundredths, so that rows of shares stand beside rows of amounts in size."""

COST = 1e3
"""Cost of one hundredth: HiGHS stops at an absolute gap of 1e-6, which is then 1e-11 of a deviation."""

EXACT_TO = (1e-10, 1e-7)
"""Tolerances in turn: on some programmes HiGHS gives up at the first."""

OPTIMAL, OUT_OF_TIME, INFEASIBLE = 0, 1, 2  # scipy.optimize.milp's own numbers


@dataclass(frozen=True)
class Outcome:
    """What HiGHS said: its columns or None, a bound (0 if none), its nodes, whether nothing is feasible."""

    columns: FloatArray | None = None
    bound: float = 0.0
    nodes: int = 0
    infeasible: bool = False

    def after(self, before: Outcome) -> Outcome:
        """Return this outcome with the nodes and the bound of an earlier run of the same search."""
        return replace(self, bound=max(self.bound, before.bound), nodes=self.nodes + before.nodes)


class LinearModel:
    """A programme (`per_batch`, measure `absolute` or `worst`) for HiGHS.

    Columns: amounts (n,), switches (n,; 1 where nothing is switched), one per strength of a material, and
    the deviations in units of `UNIT`: one per row, or a single one for `worst`.
    """

    def __init__(self, programme: Programme, switches: Switches) -> None:
        self.programme = programme
        self.switches = switches
        self.counted = np.flatnonzero(programme.factor > 0)
        deviations = len(self.counted) if programme.measure == "absolute" else 1
        strengths = sum(len(strengths) for strengths in programme.strengths)
        n = len(programme.columns)
        self.widths = {"amounts": n, "used": n, "strength": strengths, "deviation": deviations}
        self.blocks: list[tuple[Any, FloatArray, FloatArray]] = []
        self._state_limits()
        self._state_switches()
        self._state_strengths()
        self._state_deviations()

    def _add(self, least: FloatArray | float, most: FloatArray | float, **parts: Any) -> None:
        """Add rows `least <= sum of the parts times their columns <= most`; a part has shape (rows, columns)."""
        from scipy import sparse

        height = next(iter(parts.values())).shape[0]
        given = [parts.get(name, np.zeros((height, 0))) for name in self.widths]
        whole = [
            sparse.csr_array(part if part.shape[1] else (height, width))
            for part, width in zip(given, self.widths.values(), strict=True)
        ]
        ends = np.full(height, least), np.full(height, most)
        self.blocks.append((sparse.hstack(whole, format="csr"), *ends))

    def _state_limits(self) -> None:
        programme = self.programme
        self._add(programme.batch_g, programme.batch_g, amounts=programme.basis[None, :])
        for row in programme.limits:
            self._add(-math.inf, row.most, amounts=row.amounts[None, :], used=row.used[None, :])

    def _state_switches(self) -> None:
        """Say `minimum z <= x <= upper z`."""
        from scipy import sparse

        columns = self.switches.columns
        chosen = sparse.eye_array(self.widths["amounts"], format="csr")[columns]
        if len(columns):
            upper, minimum = self.switches.upper[columns], self.programme.minimum[columns]
            self._add(-math.inf, 0.0, amounts=chosen, used=-sparse.diags_array(upper) @ chosen)
            self._add(0.0, math.inf, amounts=chosen, used=-sparse.diags_array(minimum) @ chosen)

    def _state_strengths(self) -> None:
        """Say that a column is on only where its strength is, and one strength of a material at most."""
        from scipy import sparse

        start = 0
        every = sparse.eye_array(self.widths["used"], format="csr")
        for strengths in self.programme.strengths:
            for place, columns in enumerate(strengths, start):
                of_strength = np.zeros((len(columns), self.widths["strength"]))
                of_strength[:, place] = -1.0
                self._add(-math.inf, 0.0, used=every[list(columns)], strength=of_strength)
            together = np.zeros((1, self.widths["strength"]))
            together[0, start : start + len(strengths)] = 1.0
            self._add(-math.inf, 1.0, strength=together)
            start += len(strengths)

    def _state_deviations(self) -> None:
        from scipy import sparse

        programme, rows = self.programme, self.counted
        if not len(rows):
            return
        factor = programme.factor[rows] / UNIT
        each = sparse.eye_array(len(rows)) if programme.measure == "absolute" else np.ones((len(rows), 1))
        achieved = sparse.csr_array(factor[:, None] * programme.content[rows] / programme.batch_g)
        self._add(-math.inf, factor * programme.high[rows], amounts=achieved, deviation=-each)
        self._add(factor * programme.low[rows], math.inf, amounts=achieved, deviation=each)

    def refuse(self, on: BoolArray) -> None:
        """Shut out one pattern (n,) of the switched columns."""
        columns = self.switches.columns
        away = np.zeros((1, len(on)))
        away[0, columns] = np.where(on[columns], -1.0, 1.0)
        self._add(1.0 - float(on[columns].sum()), math.inf, used=away)

    def pattern(self, columns: FloatArray) -> BoolArray:
        """Return which amounts (n,) HiGHS's columns switch on."""
        n = self.widths["amounts"]
        on: BoolArray = columns[n : 2 * n] > 0.5
        return on

    def search(self, gap: float, seconds: float) -> Outcome:
        """Return the best formula with whole switches, down to a relative gap or for so many seconds."""
        from scipy import optimize

        whole = np.concatenate([np.zeros(self.widths["amounts"]), np.ones(self._switches())])
        integrality = np.concatenate([whole, np.zeros(self.widths["deviation"])])
        options: dict[str, Any] = {"mip_rel_gap": gap}
        if math.isfinite(seconds):
            options["time_limit"] = seconds
        constraints = [optimize.LinearConstraint(*block) for block in self.blocks]
        bounds = optimize.Bounds(*self._bounds())
        milp: Any = optimize.milp
        with quiet():
            said = milp(self._cost(), integrality=integrality, bounds=bounds, constraints=constraints, options=options)
        if said.status not in (OPTIMAL, OUT_OF_TIME, INFEASIBLE):
            raise SolverFault(f"HiGHS failed: {said.message}")
        bound = said.mip_dual_bound
        known = bound is not None and math.isfinite(bound)
        return Outcome(
            columns=said.x,
            bound=bound * UNIT / COST if known else 0.0,
            nodes=int(said.mip_node_count or 0),
            infeasible=said.status == INFEASIBLE,
        )

    def exact(self) -> FloatArray | None:
        """Return the columns of the best formula with nothing switched, to 1e-10; None if there is none."""
        for tolerance in EXACT_TO:
            said = self._linear(tolerance)
            if said.status in (OPTIMAL, INFEASIBLE):
                columns: FloatArray | None = said.x if said.status == OPTIMAL else None
                return columns
        raise SolverFault(f"HiGHS failed: {said.message}")

    def _linear(self, tolerance: float) -> Any:
        """Return what HiGHS says of the model as a linear programme."""
        from scipy import optimize, sparse

        rows = sparse.vstack([block[0] for block in self.blocks], format="csr")
        least, most = (np.concatenate([block[end] for block in self.blocks]) for end in (1, 2))
        equal, below, above = least == most, np.isfinite(most) & (least < most), np.isfinite(least) & (least < most)
        linprog: Any = optimize.linprog
        with quiet():
            return linprog(
                self._cost() / COST,
                A_ub=sparse.vstack([rows[below], -rows[above]], format="csr"),
                b_ub=np.concatenate([most[below], -least[above]]),
                A_eq=rows[equal],
                b_eq=most[equal],
                bounds=np.column_stack(self._bounds()),
                method="highs",
                options={"primal_feasibility_tolerance": tolerance, "dual_feasibility_tolerance": tolerance},
            )

    def _switches(self) -> int:
        return self.widths["used"] + self.widths["strength"]

    def _cost(self) -> FloatArray:
        count = self.widths["deviation"]
        return np.concatenate([np.zeros(self.widths["amounts"] + self._switches()), np.full(count, COST)])

    def _bounds(self) -> tuple[FloatArray, FloatArray]:
        """Return lower and upper bounds of all columns; a minimum binds by itself where nothing switches it."""
        switched, upper = self.switches.switched, self.switches.upper
        minimum = np.where(switched | (upper == 0), 0.0, self.programme.minimum)
        strengths, deviations = self.widths["strength"], self.widths["deviation"]
        lower = [minimum, np.where(switched, 0.0, 1.0), np.zeros(strengths + deviations)]
        ends = [upper, np.where(switched & (upper == 0), 0.0, 1.0), np.ones(strengths)]
        return np.concatenate(lower), np.concatenate([*ends, np.full(deviations, np.inf)])
