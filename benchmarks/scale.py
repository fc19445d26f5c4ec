"""How time and memory grow with bottles and constituents: each programme in a process of its own.

    python -m benchmarks.scale --family realistic --kinds plain,12,dilutions --seeds 3 --seconds 20 --json out.json

Memory is the most the process ever held, the interpreter, the libraries and the stating of the programme included.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import resource
import sys
import time
from pathlib import Path
from statistics import median

from benchmarks.families import SIZES, programme

from reaccord.contract import Budget, gap_of
from reaccord.solvers import exact

Measured = dict[str, float | str | int | None]


def measured(family: str, size: str, kind: str, seed: int, seconds: float) -> Measured:
    """Return seconds to the first formula and in all, gap reached, and the most memory held (MiB)."""
    stated = programme(family, size, kind, seed)
    before = _held()
    started = time.perf_counter()
    first = exact.solve(stated, Budget(gap=1.0, seconds=seconds))
    soon = time.perf_counter() - started
    answer = exact.solve(stated, Budget(gap=1e-3, seconds=seconds))
    found = answer.amounts is not None
    return {
        "family": family,
        "size": size,
        "kind": kind,
        "seed": seed,
        "columns": len(stated.columns),
        "first_seconds": soon,
        "first_over_best": first.value / answer.value - 1 if found and answer.value > 0 else None,
        "seconds": answer.seconds,
        "gap": gap_of(answer.value, answer.bound) if found else None,
        "stated_mib": before,
        "most_mib": _held(),
    }


def _held() -> float:
    held = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return held / (1024.0 * 1024.0) if sys.platform == "darwin" else held / 1024.0


def main() -> None:
    """Measure what the options ask for, print medians, write everything as JSON."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--family", default="realistic")
    parser.add_argument("--sizes", default=",".join(SIZES))
    parser.add_argument("--kinds", default="plain,12,dilutions")
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--seconds", type=float, default=20.0)
    parser.add_argument("--json", type=Path)
    options = parser.parse_args()
    every: list[Measured] = []
    print("medians: columns, first formula (how far above the best), proof to 0.1 %, gap, most memory")
    context = multiprocessing.get_context("spawn")
    for size in options.sizes.split(","):
        for kind in options.kinds.split(","):
            group: list[Measured] = []
            for seed in range(options.seeds):
                with context.Pool(1) as pool:
                    group.append(pool.apply(measured, (options.family, size, kind, seed, options.seconds)))
            every += group
            middle = {key: _middle(group, key) for key in ("columns", "first_seconds", "seconds", "gap", "most_mib")}
            above = _middle(group, "first_over_best")
            print(
                f"{size:>9} {kind:>9} {middle['columns']:6.0f} columns, first {middle['first_seconds']:6.2f} s"
                f" (+{100 * above:.2f} %), {middle['seconds']:6.2f} s, gap {100 * middle['gap']:.3f} %,"
                f" {middle['most_mib']:6.0f} MiB",
                flush=True,
            )
    if options.json is not None:
        options.json.write_text(json.dumps(every, indent=1), encoding="utf-8")


def _middle(group: list[Measured], key: str) -> float:
    values = [float(value) for value in (entry[key] for entry in group) if isinstance(value, float | int)]
    return median(values) if values else float("nan")


if __name__ == "__main__":
    main()
