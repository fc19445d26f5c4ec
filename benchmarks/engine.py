r"""The exact search beside SCIP and HiGHS: families x sizes x kinds x seeds, one after the other in one process.

    python -m benchmarks.engine --family realistic,naturals,bands,correlated --sizes 30x28,60x60 \
        --kinds plain,12,dilutions --seeds 10 --seconds 60 --json out.json

`ours` and `scip` minimise squares to the same gap; `highs` minimises absolute deviations, another question on the
same programme. Seconds are the processor's, so that other work on the machine changes little; HiGHS alone stops by the
clock on the wall. Ratios are SCIP's seconds over ours in the same run; a solver that reaches no proof counts with the
time it was given, so its ratio is a lower bound. Prints medians, in the end the ratios of each family, and stops where
a bound exceeds any value found.
"""

from __future__ import annotations

import argparse
import json
import math
import time
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from statistics import median

from benchmarks import scip_direct
from benchmarks.families import FAMILIES, SIZES, programme

from reaccord.contract import Answer, Budget, Programme, gap_of
from reaccord.solvers import exact, linear

ROOM = 1e-5
"""SCIP's amounts keep limits to 1e-6 only, so its values may be this much too low (relative)."""


@dataclass(frozen=True)
class Run:
    """One solver on one programme; `gap` is infinite without a formula."""

    family: str
    size: str
    kind: str
    seed: int
    solver: str
    status: str
    seconds: float
    value: float
    bound: float
    gap: float
    nodes: int


def _absolute(stated: Programme, budget: Budget) -> Answer:
    return linear.solve(replace(stated, measure="absolute"), budget)


def _ours(stated: Programme, budget: Budget) -> Answer:
    started = time.process_time()

    def over() -> bool:
        return time.process_time() - started >= budget.seconds

    return exact.solve(stated, replace(budget, seconds=math.inf, stop=over))


SOLVERS: dict[str, Callable[[Programme, Budget], Answer]] = {
    "ours": _ours,
    "scip": scip_direct.solve,
    "highs": _absolute,
}


def runs(options: argparse.Namespace) -> Iterator[list[Run]]:
    """Yield the runs of each family, size and kind."""
    for family in options.family.split(","):
        for size in options.sizes.split(","):
            for kind in options.kinds.split(","):
                yield [
                    run
                    for seed in range(options.first, options.first + options.seeds)
                    for run in _side_by_side(family, size, kind, seed, options)
                ]


def _side_by_side(family: str, size: str, kind: str, seed: int, options: argparse.Namespace) -> list[Run]:
    """Return every solver's run on one programme."""
    stated = programme(family, size, kind, seed)
    budget = Budget(gap=options.gap, seconds=options.seconds)
    found = []
    for name in options.solvers.split(","):
        started = time.process_time()
        answer = SOLVERS[name](stated, budget)
        seconds = time.process_time() - started
        gap = gap_of(answer.value, answer.bound) if answer.amounts is not None else math.inf
        found.append(
            Run(
                family,
                size,
                kind,
                seed,
                name,
                answer.status,
                seconds,
                answer.value,
                answer.bound,
                gap,
                answer.nodes,
            )
        )
    squares = [run for run in found if run.solver != "highs"]
    least = min((run.value for run in squares), default=math.inf)
    for run in squares:
        if run.bound > least * (1 + ROOM) + 1e-9:
            raise SystemExit(f"{run.solver} claims {run.bound:.9g}, a formula has {least:.9g}: {run}")
    return found


def summary(group: list[Run]) -> str:
    """Return a line of medians for one family, size and kind."""
    first = group[0]
    parts = [f"{first.family:>9} {first.size:>9} {first.kind:>9}"]
    for name in dict.fromkeys(run.solver for run in group):
        own = [run for run in group if run.solver == name]
        proven = sum(run.status == "proven" for run in own)
        gaps = 100 * median(run.gap for run in own)
        parts.append(f"{name} {median(run.seconds for run in own):7.2f} s {gaps:8.3f} % {proven}/{len(own)}")
    ratios = ratios_of(group)
    if ratios:
        parts.append(f"SCIP/ours {median(ratios):.1f}")
    return " | ".join(parts)


def ratios_of(runs: list[Run]) -> list[float]:
    """Return SCIP's seconds over ours, one for each programme that both were given."""
    ours = {_programme_of(run): run.seconds for run in runs if run.solver == "ours"}
    others = [run for run in runs if run.solver == "scip" and _programme_of(run) in ours]
    return [run.seconds / ours[_programme_of(run)] for run in others]


def _programme_of(run: Run) -> tuple[str, str, str, int]:
    return run.family, run.size, run.kind, run.seed


def ratios_text(runs: list[Run]) -> str:
    """Return a line for each family: what ours proved and left, and how much longer SCIP took."""
    lines = []
    for family in dict.fromkeys(run.family for run in runs):
        own = [run for run in runs if run.family == family]
        ours = [run for run in own if run.solver == "ours"]
        text = f"{family}: ours proved {sum(run.status == 'proven' for run in ours)} of {len(ours)}"
        if ours:
            text += f", at most {100 * max(run.gap for run in ours):.2f} % left"
        if ratios := ratios_of(own):
            text += f"; SCIP took {median(ratios):.1f} times as long (least {min(ratios):.1f}, most {max(ratios):.1f})"
        lines.append(text)
    return "\n".join(lines)


def main() -> None:
    """Run what the options ask for, print medians, write every run as JSON."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--family", default="realistic", help=",".join(FAMILIES))
    parser.add_argument("--sizes", default="30x28,60x60", help=",".join(SIZES))
    parser.add_argument("--kinds", default="plain,12,dilutions", help="plain, a number of lines, dilutions")
    parser.add_argument("--solvers", default="ours,scip,highs")
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--first", type=int, default=0, help="the first seed")
    parser.add_argument("--seconds", type=float, default=60.0, help="of the processor, given to each solver")
    parser.add_argument("--gap", type=float, default=1e-3)
    parser.add_argument("--json", type=Path)
    options = parser.parse_args()
    print("family size kind | solver: median seconds, median gap, proven")
    every: list[Run] = []
    for group in runs(options):
        every += group
        print(summary(group), flush=True)
        if options.json is not None:
            plain = [{k: v if v != math.inf else None for k, v in asdict(run).items()} for run in every]
            options.json.write_text(json.dumps(plain, indent=1), encoding="utf-8")
    print(ratios_text(every))


if __name__ == "__main__":
    main()
