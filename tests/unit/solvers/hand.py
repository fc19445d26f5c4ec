"""Programmes small enough to solve by hand, with the value each measure must reach."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from reaccord.contract import FloatArray, LimitRow, Measure, Programme
from reaccord.domain.limit_key import LimitKey


@dataclass(frozen=True)
class Case:
    """A programme and its least deviation by each measure."""

    name: str
    programme: Programme
    squares: float
    absolute: float
    worst: float

    def value(self, measure: Measure) -> float:
        return {"squares": self.squares, "absolute": self.absolute, "worst": self.worst}[measure]

    def by(self, measure: Measure) -> Programme:
        return replace(self.programme, measure=measure)


def singles(shares: list[float], minimum: list[float] | float = 0.0, batch_g: float = 10.0) -> Programme:
    """Return pure single chemicals, one for each share; a gram is a gram."""
    n = len(shares)
    share = np.array(shares)
    return Programme(
        columns=tuple(f"stock {i}" for i in range(n)),
        rows=tuple(f"row {i}" for i in range(n)),
        content=np.eye(n),
        low=share,
        high=share,
        factor=np.ones(n),
        basis=np.ones(n),
        batch_g=batch_g,
        minimum=np.broadcast_to(np.asarray(minimum, dtype=float), n).copy(),
        maximum=np.full(n, np.inf),
    )


def limited(
    programme: Programme, most: float, amounts: list[float] | None = None, used: list[float] | None = None
) -> Programme:
    """Return the programme with one more limit."""
    none: FloatArray = np.zeros(len(programme.columns))
    row = LimitRow(
        key=LimitKey("restricted", (f"limit {len(programme.limits)}",)),
        label="limit",
        sentence="a limit",
        amounts=none if amounts is None else np.array(amounts),
        used=none if used is None else np.array(used),
        most=most,
    )
    return replace(programme, limits=(*programme.limits, row))


def in_two_strengths() -> Programme:
    """Return A, and B neat (1 g or more) or at 10 % in a carrier of which 3.6 g are allowed; 5 % B wanted.

    5 g of the dilution would be exact. 4 g hold 3.6 g of carrier and 0.4 g of B, 1 g neat is twice too much.
    """
    return limited(
        Programme(
            columns=("A", "B", "B at 10 %"),
            rows=("A", "B"),
            content=np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.1]]),
            low=np.array([0.95, 0.05]),
            high=np.array([0.95, 0.05]),
            factor=np.ones(2),
            basis=np.array([1.0, 1.0, 0.1]),
            batch_g=10.0,
            minimum=np.array([0.0, 1.0, 0.0]),
            maximum=np.full(3, np.inf),
            strengths=(((1,), (2,)),),
        ),
        3.6,
        amounts=[0.0, 0.0, 0.9],
    )


def needs_both_strengths() -> Programme:
    """Return a material of which 2 g neat and 10 g of the dilution are on hand and 3 g of 3 wanted."""
    return Programme(
        columns=("B", "B at 10 %"),
        rows=("B",),
        content=np.array([[1.0, 0.1]]),
        low=np.ones(1),
        high=np.ones(1),
        factor=np.ones(1),
        basis=np.array([1.0, 0.1]),
        batch_g=3.0,
        minimum=np.zeros(2),
        maximum=np.array([2.0, 10.0]),
        strengths=(((0,), (1,)),),
    )


def banded() -> Programme:
    """Return two singles inside their bands."""
    return replace(singles([0.5, 0.5]), low=np.array([0.2, 0.5]), high=np.array([0.4, 0.7]))


def outside_band() -> Programme:
    """Return two singles of which the second is 2 g: its band begins at 0.5, the first's ends at 0.4."""
    return replace(banded(), maximum=np.array([np.inf, 2.0]))


CASES = (
    Case("exact blend", singles([0.5, 0.3, 0.2]), 0.0, 0.0, 0.0),
    # the third is missing: 0.2 too much is shared, 0.1 each, or lands anywhere
    Case("missing", replace(singles([0.5, 0.3, 0.2]), maximum=np.array([np.inf, np.inf, 0.0])), 0.06, 0.4, 0.2),
    # 3 % wanted, a tenth is the least: none of it is nearer
    Case("minimum", singles([0.97, 0.03], [0.0, 1.0]), 2 * 0.03**2, 0.06, 0.03),
    # 8 % wanted, a tenth is the least: the tenth is nearer
    Case("minimum taken", singles([0.92, 0.08], [0.0, 1.0]), 2 * 0.02**2, 0.04, 0.02),
    Case("one line", limited(singles([0.6, 0.4]), 1.0, used=[1.0, 1.0]), 2 * 0.4**2, 0.8, 0.4),
    Case("strengths", in_two_strengths(), 2 * 0.01**2, 0.02, 0.01),
    Case("bands", banded(), 0.0, 0.0, 0.0),
    Case("outside a band", outside_band(), 0.4**2 + 0.3**2, 0.7, 0.4),
    # dear and cheap, 2 a gram on average: half and half where 80 % of the dear one is wanted
    Case("cost", limited(singles([0.8, 0.2]), 0.0, amounts=[1.0, -1.0]), 2 * 0.3**2, 0.6, 0.3),
    Case("at least", limited(singles([0.8, 0.2]), -5.0, amounts=[0.0, -1.0]), 2 * 0.3**2, 0.6, 0.3),
)

IMPOSSIBLE = (
    Case("too little on hand", replace(singles([0.5, 0.5]), maximum=np.full(2, 4.0)), 0.0, 0.0, 0.0),
    Case(
        "one line of two needed",
        limited(replace(singles([0.5, 0.5]), maximum=np.full(2, 6.0)), 1.0, used=[1, 1]),
        0,
        0,
        0,
    ),
    Case("minimum over the batch", singles([0.5, 0.5], 11.0), 0.0, 0.0, 0.0),
    Case("limits against each other", limited(limited(singles([0.5, 0.5]), 2.0, [1, 0]), -3.0, [-1, 0]), 0, 0, 0),
    Case("a limit without entries", limited(singles([0.5, 0.5], 1.0), -1.0), 0.0, 0.0, 0.0),
    Case("both strengths needed", needs_both_strengths(), 0.0, 0.0, 0.0),
)
