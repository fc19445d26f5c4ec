"""A changed study with its programme stated anew, beside the same study read and stated from its tables.

    python -m benchmarks.changed --constituents 150 --bottles 230 --repeats 9

Prints medians in milliseconds and their ratio. The study is seeded and invented; it is read from data frames, so that
no disk takes part.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from statistics import median

from benchmarks.large_study import large

from reaccord.domain.stock import Stock, StockKey
from reaccord.domain.study import Study
from reaccord.programme import restate, state
from reaccord.study import changed

Change = Callable[[Study, float], Study]
"""A study with one thing changed, a little otherwise each time: by so much, above 0 and below 1."""


def changes(study: Study) -> dict[str, Change]:
    """Return one change of each kind."""
    pure = StockKey("Pure 001", 1.0, "", "")
    natural = StockKey("Natural 001", 1.0, "", "")
    claim = next(study.claims())
    row = study.target.rows[0].label
    return {
        "cost limit": lambda s, by: changed.with_keys(s, "limits", cost_per_kg=100 + by),
        "lines": lambda s, by: changed.with_keys(s, "limits", lines=round(10 * by) + 5),
        "dosage": lambda s, by: changed.with_keys(s, "limits", dosage=by / 10),
        "batch": lambda s, by: changed.with_keys(s, "batch", accord_g=10 + by),
        "balance": lambda s, by: changed.with_keys(s, "balance", minimum_g=0.02 + by / 100),
        "scale": lambda s, by: changed.with_keys(s, "fit", scale="equal", floor=by / 100),
        "weight": lambda s, by: changed.with_weight(s, row, 1 + by),
        "rule": lambda s, by: changed.with_rule(s, claim.key, by * claim.most),
        "amount": lambda s, by: changed.with_amount(s, "Natural 001", at_most_g=by),
        "rows multiplied": lambda s, by: changed.with_multiples(s, {row: 1 + by}),
        "grams on hand": lambda s, by: changed.with_bottle_cells(s, natural, stock_g=5 + by),
        "bottle left out": lambda s, by: changed.without_bottle(s, pure),
        "bottle added": lambda s, by: changed.with_bottle(s, _newcomer(s, by)),
    }


def main() -> None:
    """Measure each kind of change and print."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--constituents", type=int, default=150)
    words.add_argument("--bottles", type=int, default=230)
    words.add_argument("--repeats", type=int, default=9)
    asked = words.parse_args()
    draft = large(asked.constituents, asked.bottles, seed=0)
    study = draft.study()
    before = state(study)
    anew = _milliseconds(lambda _: state(draft.study()), asked.repeats)
    print(f"{len(study.stocks)} stocks, {len(before.rows)} rows, {len(before.limits)} limits; read anew {anew:.1f} ms")
    for name, change in changes(study).items():
        took = _milliseconds(partial(change, study), asked.repeats)
        stating = _milliseconds(lambda by, change=change: restate(before, study, change(study, by)), asked.repeats)  # type: ignore[misc]
        print(f"{name:>16}: changed {took:6.2f} ms, and stated {stating:6.2f} ms, ratio {anew / stating:5.0f}")


def _newcomer(study: Study, by: float) -> Stock:
    alike = next(stock for stock in study.stocks if stock.key.material == "Pure 001" and stock.recipe is None)
    return replace(alike, key=StockKey("Newcomer", 1.0, "", ""), price_per_g=by)


def _milliseconds(work: Callable[[float], object], repeats: int) -> float:
    took = []
    for turn in range(repeats):
        begun = time.perf_counter()
        work((turn + 1) / (repeats + 1))
        took.append(1000 * (time.perf_counter() - begun))
    return median(took)


if __name__ == "__main__":
    main()
