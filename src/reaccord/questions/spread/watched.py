"""The quantities of a formula that move with natural variation, as sums over sets of varied rows."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np

from reaccord.contract import FloatArray
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study
from reaccord.questions.spread.variation import UNNAMED, RowSet, Substance, Variation


class Watched:
    """Gram of each target row, of each claim of a rule, of undeclared mass and of carrier.

    Quantities stand in this order: the K rows of the target, the claims of the rules (`claims`: place by key),
    undeclared, carrier. `sets` are the sets of varied rows that occur in any of the stocks asked for.
    """

    def __init__(self, study: Study, variation: Variation, keys: Iterable[StockKey]) -> None:
        self.study, self.variation = study, variation
        self.keys = tuple(dict.fromkeys(keys))
        self.rows = len(study.target.rows)
        self.claims = {claim.key: place for place, claim in enumerate(study.claims(), start=self.rows)}
        self.undeclared = self.rows + len(self.claims)
        self.carrier = self.undeclared + 1
        self.count = self.carrier + 1
        self._counts = self._counting()
        self.sets = tuple(sorted({rows for key in self.keys for rows in variation.stock(key) if rows}))
        self._place = {rows: number for number, rows in enumerate(self.sets, start=1)}

    def _counting(self) -> dict[Substance, dict[int, float]]:
        """Return what a gram of each substance adds to each quantity."""
        found: dict[Substance, dict[int, float]] = {UNNAMED: {self.undeclared: 1.0}}

        def count(substance: Substance, quantity: int, times: float) -> None:
            here = found.setdefault(substance, {})
            here[quantity] = here.get(quantity, 0.0) + times

        for number, row in enumerate(self.study.target.rows):
            if row.kind == "undeclared":
                count(UNNAMED, number, 1.0)
            for name in row.members:
                count(Substance("constituent", name), number, 1.0)
        for claim in self.study.claims():
            for times, member in claim.terms:
                if member.material:
                    count(Substance("material", member.material), self.claims[claim.key], times)
                for name in () if member.material else member.constituents:
                    count(Substance("constituent", name), self.claims[claim.key], times)
        for name in self.study.carriers:
            count(Substance("constituent", name), self.carrier, 1.0)
        return found

    def contents(self, key: StockKey) -> dict[RowSet, FloatArray]:
        """Return the quantities in one gram of a stock for each set of rows, each of shape (Q,)."""
        found = {}
        for rows, held in self.variation.stock(key).items():
            vector = np.zeros(self.count)
            for substance, gram in held.items():
                for quantity, times in self._counts.get(substance, {}).items():
                    vector[quantity] += times * gram
            found[rows] = vector
        return found

    def of_formula(self, amounts: Mapping[StockKey, float]) -> FloatArray:
        """Return gram of each quantity in a formula, shape (1 + sets, Q): of means, then of each set of rows."""
        total = np.zeros((1 + len(self.sets), self.count))
        for key, grams in amounts.items():
            for rows, vector in self.contents(key).items():
                total[self._place.get(rows, 0)] += grams * vector
        return total
