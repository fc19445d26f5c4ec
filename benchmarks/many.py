"""Many small studies: throughput beside a loop over the cvxpy statement, and memory while thousands go through.

    python -m benchmarks.many --studies 10000 --loop 100

The studies are the seeded random ones of the tests, all invented; `--share` of them stand on each shelf, half of these
with a target of their own, the others with other limits on the same. The loop is the plain one: it reads each study and
solves it with `solvers/reference.py` (the same programme stated in cvxpy anew, then SCIP or Clarabel or HiGHS; no
parameters, no rounding, no sentence why nothing fits) one after the other in one process; `many` reads, solves, rounds,
judges, explains and writes its line, in a process for each processor. Seconds of the
processor are compared as well: they depend less on what else the machine does. Prints, asserts nothing.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import tempfile
import time
from collections.abc import Iterator
from concurrent.futures import BrokenExecutor, Executor
from contextlib import suppress
from itertools import count, islice
from pathlib import Path

import numpy as np
from tests.random_studies import Draft, Row, draw, write_tables

from reaccord.contract import Budget
from reaccord.findings import InvalidInput
from reaccord.programme import state
from reaccord.questions.many.run import run_many
from reaccord.questions.processes import Processes, usable_processors
from reaccord.solvers import reference
from reaccord.solvers.possible import possible
from reaccord.study.load import load_study

FIRST = 0
"""Seed of the first study."""
PATIENCE, HARD = 5.0, 15.0
"""Seconds after which the solver, and then the loop, gives a study up; the time until then counts: a modest ratio."""


def main() -> None:
    """Run both and print."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--studies", type=int, default=1000, help="how many go through `many`")
    words.add_argument("--loop", type=int, default=100, help="how many of them go through the loop")
    words.add_argument("--share", type=int, default=20, help="how many studies stand on one shelf; 1: none share")
    words.add_argument("--bottles", type=int, default=12, help="most bottles of a study; none has dilutions to make")
    words.add_argument("--fitting", action="store_true", help="only shelves on which a formula is possible")
    words.add_argument("--seconds", type=float, default=1.0, help="for each search of `many`")
    asked = words.parse_args()
    with tempfile.TemporaryDirectory() as place:
        paths = list(
            islice(sharing(small(asked.bottles, fitting=asked.fitting), asked.share, Path(place)), asked.studies)
        )
        lines = Path(place) / "results.jsonl"
        rate, cpu = through_many(paths, lines, asked.seconds)
        found = [json.loads(line) for line in lines.read_text(encoding="utf-8").splitlines()]
        part = paths[: asked.loop]
        alone, rest, loop_cpu = through_the_loop(part, {line["study"]: line for line in found})
        print(f"processor seconds for a study: loop {loop_cpu:.4f}, many {cpu:.4f}, ratio {loop_cpu / cpu:.1f}")
        told = f"{rate / alone:.1f}, or {rate / rest:.1f} without what the loop gave up"
        print(f"ratio of throughputs: {told} (with {usable_processors()} processors)")


def small(bottles: int, *, fitting: bool = False) -> Iterator[Draft]:
    """Yield the seeded studies that are small, one after the other; `fitting`: that allow a formula."""
    for seed in count(FIRST):
        draft = draw(seed)
        is_small = len(draft.tables["bottles.csv"]) <= bottles and "dilutions" not in draft.settings
        if is_small and (not fitting or possible(state(draft.study()))):
            yield draft


def sharing(drafts: Iterator[Draft], share: int, place: Path) -> Iterator[Path]:
    """Write each shelf once with so many studies on it, and yield their files.

    The first is the study as drawn. Of the others every second has a target of its own, each share a little otherwise;
    the rest are on the same target, with another batch and one line less each time.
    """
    for number, draft in enumerate(drafts):
        first = draft.write(place / f"{number:05d}")
        yield first
        rng = np.random.default_rng((20261128, number))
        for k in range(1, share):
            other = draft.copy()
            if k % 2:
                other.settings["target"]["table"] = f"target_{k}.csv"
                other.tables[f"target_{k}.csv"] = [_otherwise(row, rng) for row in other.tables.pop("target.csv")]
            else:
                other.settings["batch"]["accord_g"] *= 1 + k / 10
                other.settings["limits"] = {**other.settings.get("limits", {}), "lines": max(2, 12 - k)}
            for table in other.tables:
                if not table.startswith("target"):
                    other.tables[table] = draft.tables[table]
            path = first.with_name(f"study_{k}.toml")
            path.write_text(other.text(), encoding="utf-8")
            write_tables({name: rows for name, rows in other.tables.items() if name not in draft.tables}, first.parent)
            yield path


def _otherwise(row: Row, rng: np.random.Generator) -> Row:
    """Return a row of the target with its shares a tenth more or less; bands and marks stay."""
    times = float(rng.uniform(0.9, 1.0))
    return {
        name: f"{float(cell) * times:.6g}" if name.startswith("S") and cell and cell[0].isdigit() else cell
        for name, cell in row.items()
    }


def through_many(paths: list[Path], lines: Path, limit: float) -> tuple[float, float]:
    """Return studies a second and processor seconds a study; print the memory after 1,000, 5,000 and all."""
    codes: dict[int, int] = {}
    marks = {1000, 5000, len(paths)}
    started, before = time.perf_counter(), os.times()
    for number, outcome in enumerate(run_many(paths, out=lines, budget=Budget(seconds=limit)), start=1):
        assert outcome.line is not None
        codes[outcome.line["exit_code"]] = codes.get(outcome.line["exit_code"], 0) + 1
        if number in marks:
            workers = [resident(child.pid) for child in multiprocessing.active_children()]
            told = ", ".join(f"{size:.0f}" for size in sorted(workers))
            seconds = time.perf_counter() - started
            here = resident(os.getpid())
            print(f"{number:6d} done after {seconds:5.0f} s: {here:.0f} MB here, workers {told} MB", flush=True)
    seconds, after = time.perf_counter() - started, os.times()
    cpu = sum(getattr(after, n) - getattr(before, n) for n in ("user", "system", "children_user", "children_system"))
    print(f"many: {len(paths)} studies in {seconds:.1f} s, {len(paths) / seconds:.1f} a second; exit codes {codes}")
    return len(paths) / seconds, cpu / len(paths)


def through_the_loop(paths: list[Path], found: dict[str, dict[str, object]]) -> tuple[float, float, float]:
    """Return studies a second of the plain loop, all and without those given up, and the latter's processor seconds.

    Prints how its values compare.
    """
    make = Processes(1)
    pool: Executor | None = None
    apart, compared, lost, late, spent, waited, worked = 0.0, 0, 0, 0, 0.0, 0.0, 0.0
    for path in paths:
        if pool is None:
            pool = make()
            pool.submit(reference_value, paths[0]).result()  # imports and first calls are not the loop's time
        try:
            seconds, cpu, answer = pool.submit(reference_value, path).result(timeout=HARD)
        except BrokenExecutor:  # the native code took its process with it
            lost, pool = lost + 1, None
            continue
        except TimeoutError:  # the solver does not look at its clock there
            make.end()
            seconds, cpu, answer, pool = HARD, HARD, None, None
        spent += seconds
        if seconds >= PATIENCE:
            late, waited = late + 1, waited + seconds
        else:
            worked += cpu
        value = found[str(path)]["before_rounding"]
        if isinstance(value, float) and answer is not None:
            apart, compared = max(apart, abs(answer - value) / max(value, 1e-9)), compared + 1
    make.end()
    done = len(paths) - lost
    print(f"cvxpy loop: {done} studies in {spent:.1f} s, {done / spent:.1f} a second")
    rest = (done - late) / (spent - waited)
    print(f"of these {late} were given up after {PATIENCE:g} to {HARD:g} s; without them {rest:.1f} a second")
    print(f"{lost} more ended the solver's process")
    print(f"largest relative difference of the deviation over {compared} solved by both: {apart:.2g}")
    return done / spent, rest, worked / (done - late)


def reference_value(path: Path) -> tuple[float, float, float | None]:
    """Return the seconds one study takes in the loop, those of the processor, and its deviation if it is proven."""
    started, worked = time.perf_counter(), time.process_time()
    value = None
    with suppress(InvalidInput):
        answer = reference.solve(state(load_study(path)), Budget(seconds=PATIENCE))
        value = answer.value if answer.status == "proven" else None
    return time.perf_counter() - started, time.process_time() - worked, value


def resident(process: int | None) -> float:
    """Return the resident memory of a process in MB; NaN where the system does not tell."""
    try:
        words = Path(f"/proc/{process}/status").read_text(encoding="ascii").split()
    except OSError:
        return float("nan")
    return int(words[words.index("VmRSS:") + 1]) / 1024


if __name__ == "__main__":
    main()
