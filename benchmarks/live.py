"""Answers while the hand moves: a changed programme or study searched warm, from the answer before, beside cold.

    python -m benchmarks.live --sizes 60x60,150x230 --kinds plain,12 --seeds 3
    python -m benchmarks.live --studies examples/geranium/study.toml,examples/geranium/candle.toml

Changes: the cost ceiling 1 % lower, a bottle of middling weight left out, one line fewer, a row's weight doubled.
Programmes are searched alone; a study is changed, stated, searched, rounded and judged (`whole`), of which `search` is
the solver's part. Milliseconds of the processor, or with `--wall` by the clock; median and 90th percentile, a line a
change; ratios are cold over warm in the same run. Stops if a verdict differs, or a bound exceeds a value found.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from benchmarks.families import FAMILIES, SIZES, programme

from reaccord.answer.fit import fit
from reaccord.answer.fitted import Fit
from reaccord.contract import Answer, Budget, FloatArray, Programme
from reaccord.domain.study import Study
from reaccord.findings import InvalidInput, NoAnswer, NoFormula
from reaccord.programme import state
from reaccord.solvers import exact
from reaccord.study import changed
from reaccord.study.load import load_study

ROOM = 1e-9
CLOCK = [time.process_time]
"""What times are taken by."""


@dataclass(frozen=True)
class Timed:
    """One change, cold and warm: milliseconds until a formula was told of (warm) and until the end."""

    change: str
    first: float
    warm: float
    cold: float
    search: float
    same: bool


def programmes(stated: Programme, amounts: FloatArray) -> Iterator[tuple[str, Programme]]:
    """Yield a programme with one thing changed."""
    active = stated.content.sum(axis=0)
    for k, row in enumerate(stated.limits):
        if row.label == "cost":
            ceiling = float((-row.amounts / active).max())
            lower = replace(row, amounts=row.amounts + 0.01 * ceiling * active)
            yield "ceiling", replace(stated, limits=(*stated.limits[:k], lower, *stated.limits[k + 1 :]))
        elif row.label == "lines":
            fewer = replace(row, most=row.most - 1)
            yield "lines", replace(stated, limits=(*stated.limits[:k], fewer, *stated.limits[k + 1 :]))
    used = np.flatnonzero(amounts > 0)
    middling = int(used[np.argsort(-amounts[used], kind="stable")[len(used) // 2]])
    yield "bottle", stated.only(np.flatnonzero(np.arange(len(amounts)) != middling))
    factor = stated.factor.copy()
    factor[np.argsort(-np.abs(stated.scaled_residuals(amounts)), kind="stable")[2]] *= 2**0.5
    yield "weight", replace(stated, factor=factor)


def studies(study: Study, base: Fit) -> Iterator[tuple[str, Callable[[], Study]]]:
    """Yield how to change one thing in a study."""
    ceiling, lines = study.settings.limits.cost_per_kg, study.settings.limits.lines
    if ceiling is not None:
        yield "ceiling", lambda: changed.with_keys(study, "limits", cost_per_kg=0.99 * ceiling)
    if lines is not None:
        yield "lines", lambda: changed.with_keys(study, "limits", lines=lines - 1)
    poured = sorted((line for line in base.judged.lines if line.stock.recipe is None), key=lambda line: -line.grams)
    for line in poured[len(poured) // 2 :]:
        try:
            changed.without_bottle(study, line.stock.key)
        except InvalidInput:  # an amount asks for it
            continue
        yield "bottle", lambda key=line.stock.key: changed.without_bottle(study, key)
        break
    label = sorted(base.judged.residuals, key=lambda residual: -abs(residual.scaled))[2].row.label
    weight = next(entry.weight for entry in study.settled.target if entry.label == label)
    yield "weight", lambda: changed.with_weight(study, label, 2 * weight)


def searched(stated: Programme, budget: Budget) -> list[Timed]:
    """Return the changes of one programme."""
    base, found = exact.solve(stated, budget), []
    for change, other in programmes(stated, base.formula):
        cold, cold_ms, _ = _solved(other, budget)
        warm, warm_ms, first = _solved(other, replace(budget, warm=base.warm))
        _agree(cold, warm)
        same = bool(np.array_equal(cold.formula > 0, warm.formula > 0)) if cold.amounts is not None else True
        found.append(Timed(change, first, warm_ms, cold_ms, warm_ms, same))
    return found


def fitted(study: Study, budget: Budget) -> list[Timed]:
    """Return the changes of one study."""
    base, found = fit(study, budget), []
    for change, make in studies(study, base):
        cold, cold_ms, _ = _fit(make, budget, None)
        warm, warm_ms, first = _fit(make, budget, base)
        _, search, _ = _solved(state(make()), replace(budget, warm=base.answer.warm))
        if cold is not None and warm is not None:
            _agree(cold.answer, warm.answer)
        same = cold is None or warm is None or cold.amounts == warm.amounts
        found.append(Timed(change, first, warm_ms, cold_ms, search, same))
    return found


def _solved(stated: Programme, budget: Budget) -> tuple[Answer, float, float]:
    told: list[float] = []
    begun = CLOCK[0]()
    answer = exact.solve(stated, replace(budget, found=lambda _: told.append(CLOCK[0]())))
    ended = CLOCK[0]()
    return answer, 1000 * (ended - begun), 1000 * ((told[0] if told else ended) - begun)


def _fit(make: Callable[[], Study], budget: Budget, before: Fit | None) -> tuple[Fit | None, float, float]:
    told: list[float] = []
    asked = replace(budget, found=lambda _: told.append(CLOCK[0]()))
    begun = CLOCK[0]()
    try:
        answer = fit(make(), asked, before=before)
    except (NoAnswer, NoFormula):
        answer = None
    ended = CLOCK[0]()
    return answer, 1000 * (ended - begun), 1000 * ((told[0] if told else ended) - begun)


def _agree(cold: Answer, warm: Answer) -> None:
    if cold.bound > warm.value * (1 + ROOM) + ROOM or warm.bound > cold.value * (1 + ROOM) + ROOM:
        raise SystemExit(f"a bound exceeds a value: {cold} {warm}")
    if {cold.status, warm.status} == {"infeasible", "proven"}:
        raise SystemExit(f"verdicts differ: {cold} {warm}")


def _each_change(what: str, runs: list[Timed]) -> None:
    for change in dict.fromkeys(run.change for run in runs):
        print(line_of(f"{what} {change}", [run for run in runs if run.change == change]))


def line_of(what: str, runs: list[Timed]) -> str:
    """Return a line of medians and 90th percentiles."""
    warm, cold = [run.warm for run in runs], [run.cold for run in runs]
    ratio = np.median([run.cold / run.warm for run in runs])
    return (
        f"{what:>32} {len(runs):3d} | first {_two([run.first for run in runs])} | warm {_two(warm)} | cold {_two(cold)}"
        f" | ratio {ratio:5.1f} | same columns {sum(run.same for run in runs)}/{len(runs)}"
    )


def _two(times: list[float]) -> str:
    return f"{np.median(times):6.0f} {np.quantile(times, 0.9):6.0f}"


def main() -> None:
    """Run what the options ask for and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--families", default="realistic", help=",".join(FAMILIES))
    parser.add_argument("--sizes", default="60x60,150x230", help=",".join(SIZES))
    parser.add_argument("--kinds", default="plain,12,dilutions", help="plain, a number of lines, dilutions")
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--first", type=int, default=0, help="the first seed")
    parser.add_argument("--studies", default="", help="study files in place of the families")
    parser.add_argument("--wall", action="store_true", help="by the clock, not of the processor")
    parser.add_argument("--seconds", type=float, default=10.0, help="given to each search")
    options = parser.parse_args()
    budget = Budget(seconds=options.seconds)
    CLOCK[0] = time.perf_counter if options.wall else time.process_time
    print(f"milliseconds {'by the clock' if options.wall else 'of the processor'}, median and 90th percentile")
    for path in filter(None, options.studies.split(",")):
        study = load_study(Path(path))
        fit(study, budget)  # the libraries are loaded
        every = [fitted(study, budget) for _ in range(options.seeds)]
        _each_change(Path(path).stem, [run for runs in every for run in runs])
        print(line_of(f"{Path(path).stem} search alone", [replace(r, warm=r.search) for runs in every for r in runs]))
    for family in () if options.studies else options.families.split(","):
        for size in options.sizes.split(","):
            for kind in options.kinds.split(","):
                numbers = range(options.first, options.first + options.seeds)
                runs = [run for seed in numbers for run in searched(programme(family, size, kind, seed), budget)]
                _each_change(f"{family} {size} {kind}", runs)
                print(line_of(f"{family} {size} {kind}", runs), flush=True)


if __name__ == "__main__":
    main()
