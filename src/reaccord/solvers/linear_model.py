"""A programme with a linear measure as HiGHS takes it: columns, rows, bounds."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from reaccord.contract import FloatArray, Programme
from reaccord.findings import SolverFault
from reaccord.solvers import few_whole, highs
from reaccord.solvers.highs import Entries, Loaded, Told, by_rows, entries
from reaccord.solvers.switching import BoolArray, Switches

UNIT = 0.01
"""Deviations are counted in hundredths, so that rows of shares stand beside rows of amounts in size."""

COST = 1e3
"""Cost of one hundredth: HiGHS stops at an absolute gap of 1e-6, which is then 1e-11 of a deviation."""

EXACT_TO = (1e-10, 1e-7)
"""Tolerances in turn: on some programmes HiGHS gives up at the first."""


Progress = Callable[[float, float, int], None]


@dataclass(frozen=True)
class HighsRun:
    """What HiGHS said: its columns or None, a bound (0 if none), its nodes, whether nothing is feasible."""

    columns: FloatArray | None = None
    bound: float = 0.0
    nodes: int = 0
    infeasible: bool = False

    def after(self, before: HighsRun) -> HighsRun:
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
        self._starts = dict(zip(self.widths, np.cumsum([0, *self.widths.values()]), strict=False))
        self._height, self._entries, self._ends = 0, list[Entries](), list[tuple[FloatArray, FloatArray]]()
        self._state_limits()
        self._state_switches()
        self._state_strengths()
        self._state_deviations()

    def _add(self, least: FloatArray | float, most: FloatArray | float, height: int, **parts: Entries) -> None:
        """Add rows `least <= sum of the parts times their columns <= most`, each part as entries of its own."""
        for name, (row, column, value) in parts.items():
            self._entries.append((row + self._height, column + self._starts[name], value))
        self._height += height
        self._ends.append((np.full(height, least), np.full(height, most)))

    def _state_limits(self) -> None:
        programme = self.programme
        self._add(programme.batch_g, programme.batch_g, 1, amounts=entries(programme.basis[None, :]))
        if programme.limits:
            amounts, used, _, most = programme.limit_arrays
            self._add(-math.inf, most, len(most), amounts=entries(amounts), used=entries(used))

    def _state_switches(self) -> None:
        """Say `minimum z <= x <= upper z`."""
        columns = self.switches.columns
        upper, minimum = self.switches.upper[columns], self.programme.minimum[columns]
        each = np.arange(len(columns))
        one = each, columns, np.ones(len(columns))
        self._add(-math.inf, 0.0, len(columns), amounts=one, used=(each, columns, -upper))
        self._add(0.0, math.inf, len(columns), amounts=one, used=(each, columns, -minimum))

    def _state_strengths(self) -> None:
        """Say that a column is on only where its strength is, and one strength of a material at most."""
        start = 0
        for strengths in self.programme.strengths:
            for place, columns in enumerate(strengths, start):
                each, one = np.arange(len(columns)), np.ones(len(columns))
                of_it = each, np.full(len(columns), place), -one
                self._add(-math.inf, 0.0, len(columns), used=(each, np.array(columns), one), strength=of_it)
            together = np.arange(start, start + len(strengths))
            of_one = np.zeros(len(strengths), dtype=np.intp), together, np.ones(len(strengths))
            self._add(-math.inf, 1.0, 1, strength=of_one)
            start += len(strengths)

    def _state_deviations(self) -> None:
        programme, rows = self.programme, self.counted
        if not len(rows):
            return
        factor = programme.factor[rows] / UNIT
        each = np.arange(len(rows))
        deviation = each if programme.measure == "absolute" else np.zeros(len(rows), dtype=np.intp)
        achieved, one = entries(factor[:, None] * programme.content[rows] / programme.batch_g), np.ones(len(rows))
        least, most = factor * programme.low[rows], factor * programme.high[rows]
        self._add(-math.inf, most, len(rows), amounts=achieved, deviation=(each, deviation, -one))
        self._add(least, math.inf, len(rows), amounts=achieved, deviation=(each, deviation, one))

    def refuse(self, on: BoolArray) -> None:
        """Shut out one pattern (n,) of the switched columns."""
        columns = self.switches.columns
        away = np.zeros((1, len(on)))
        away[0, columns] = np.where(on[columns], -1.0, 1.0)
        self.__dict__.pop("_whole", None)
        self.__dict__.pop("_loaded", None)
        self._add(1.0 - float(on[columns].sum()), math.inf, 1, used=entries(away))

    def pattern(self, columns: FloatArray) -> BoolArray:
        """Return which amounts (n,) HiGHS's columns switch on."""
        n = self.widths["amounts"]
        on: BoolArray = columns[n : 2 * n] > 0.5
        return on

    def search(self, gap: float, seconds: float, told: Told | None = None) -> HighsRun:
        """Return the best formula with whole switches, down to a relative gap or for so many seconds."""
        options: dict[str, Any] = {"mip_rel_gap": gap}
        if math.isfinite(seconds):
            options["time_limit"] = seconds
        said = few_whole.solve(self._whole, told, self._loaded if self.is_small else None, **options)
        if said.ended == "failed":
            raise SolverFault(f"HiGHS failed: {said.message}")
        bound = said.bound * UNIT / COST if math.isfinite(said.bound) else 0.0
        return HighsRun(said.columns, bound, said.nodes, said.ended == "infeasible")

    @cached_property
    def is_small(self) -> bool:
        """Whether a few linear programmes settle it."""
        return few_whole.is_small(self._whole)

    @cached_property
    def _whole(self) -> highs.Linear:
        """Return the model with whole switches."""
        whole = np.zeros(sum(self.widths.values()), dtype=bool)
        whole[self.widths["amounts"] :][: self._switches()] = True
        return self._stated(COST, whole)

    @cached_property
    def _loaded(self) -> Loaded:
        """Return the model with nothing whole, to be asked again and again."""
        return Loaded(self._whole._replace(whole=None), EXACT_TO[0])

    def exact_on(self, on: BoolArray) -> tuple[FloatArray | None, float] | None:
        """Return the columns of the best formula that uses only what is on (n,) and all of it that is switched.

        To 1e-10, and its cost; no columns if there is none, None alone where HiGHS fails.
        """
        n, on = self.widths["amounts"], on & (self.switches.upper > 0)
        switched, lower, upper = self.switches.switched, self._whole.lower, self._whole.upper
        used, strength = np.where(switched, on, 1.0), slice(2 * n, n + self._switches())
        low = np.concatenate([np.where(on, lower[:n], 0.0), used, lower[strength]])
        high = np.concatenate([np.where(on, upper[:n], 0.0), used, upper[strength]])
        return self._loaded.between(np.arange(len(low)), low, high)

    def holds(self, columns: FloatArray) -> bool:
        """Tell whether columns keep every row as closely as `exact_on` asks."""
        model = self._whole
        return not few_whole.broken(model, few_whole.row_of(model), columns, EXACT_TO[0]).any()

    def exact(self) -> FloatArray | None:
        """Return the columns of the best formula with nothing switched, to 1e-10; None if there is none."""
        for tolerance in EXACT_TO:
            options: dict[str, Any] = {
                "primal_feasibility_tolerance": tolerance,
                "dual_feasibility_tolerance": tolerance,
            }
            said = highs.solve(self._stated(1.0, None), **options)
            if said.ended in ("optimal", "infeasible"):
                return said.columns
        raise SolverFault(f"HiGHS failed: {said.message}")

    def start(self, amounts: FloatArray, on: BoolArray, deviations: FloatArray) -> FloatArray:
        """Return all columns for amounts (n,) in batches, what is on (n,), and the deviation columns."""
        used = np.where(self.switches.switched, on, True).astype(float)
        strengths = [float(on[list(c)].any()) for strengths in self.programme.strengths for c in strengths]
        return np.concatenate([amounts, used, strengths, deviations])

    def deviations(self, columns: FloatArray) -> FloatArray:
        """Return the deviation columns among all."""
        return columns[len(columns) - self.widths["deviation"] :]

    def progress_of(
        self, told: Callable[[float, float, int], None] | None
    ) -> Callable[[float, float, int], None] | None:
        """Return what tells `told` deviations when it is told HiGHS's cost."""
        if told is None:
            return None
        unit = UNIT / COST
        return lambda value, bound, nodes: told(min(value, math.inf) * unit, max(bound * unit, 0.0), nodes)

    def _stated(self, cost: float, whole: BoolArray | None) -> highs.Linear:
        """Return the model with deviations at so much a unit; `whole` (columns,) marks integers."""
        rows = by_rows(self._entries, self._height)
        least, most = (np.concatenate([ends[end] for ends in self._ends]) for end in (0, 1))
        lower, upper = self._bounds()
        count = self.widths["deviation"]
        price = np.concatenate([np.zeros(len(lower) - count), np.full(count, cost)])
        return highs.Linear(price, lower, upper, rows, least, most, whole)

    def _switches(self) -> int:
        return self.widths["used"] + self.widths["strength"]

    def _bounds(self) -> tuple[FloatArray, FloatArray]:
        """Return lower and upper bounds of all columns; a minimum binds by itself where nothing switches it."""
        switched, upper = self.switches.switched, self.switches.upper
        minimum = np.where(switched | (upper == 0), 0.0, self.programme.minimum)
        strengths, deviations = self.widths["strength"], self.widths["deviation"]
        lower = [minimum, np.where(switched, 0.0, 1.0), np.zeros(strengths + deviations)]
        ends = [upper, np.where(switched & (upper == 0), 0.0, 1.0), np.ones(strengths)]
        return np.concatenate(lower), np.concatenate([*ends, np.full(deviations, np.inf)])
