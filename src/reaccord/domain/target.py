"""The rows that closeness is measured on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, NamedTuple

RowKind = Literal["named", "foreign", "undeclared", "open rest"]


class TargetRow(NamedTuple):
    """One row of the target, or of what comes besides.

    `members` are the constituents it adds up (empty for `undeclared`). `share` is the typical value
    `t_k`; `low` and `high` are the ends of the band, equal to `share` where there is none. `factor` is
    `weight * s_k`: scaled residual = factor x distance. All shares are fractions of the basis.
    """

    label: str
    kind: RowKind
    members: frozenset[str]
    share: float
    low: float
    high: float
    factor: float

    @property
    def band(self) -> bool:
        """Whether a whole interval is as good as any point of it."""
        return self.high > self.low

    def distance(self, achieved: float) -> float:
        """Signed distance of an achieved share from the share, or from the nearest end of the band."""
        return achieved - min(max(achieved, self.low), self.high)


@dataclass(frozen=True)
class Target:
    """The target as the study will use it.

    `rows` hold named rows first and then foreign, open rest and undeclared, each sorted by name.
    `published_sum` is the mean sum of the samples, `unaccounted` what is left to 1.
    """

    samples: tuple[str, ...]
    rest: Literal["close", "open"]
    published_sum: float
    unaccounted: float
    rows: tuple[TargetRow, ...]
