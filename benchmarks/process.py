"""Whole processes, from the command to the answer, beside those of another tree of the source.

    python -m benchmarks.process --old /path/to/an/older/checkout/src --repeats 5

Seconds of the processor (user and system) of `reaccord fit` on examples, of `reaccord --help`, and of reading and
settling a shelf of 250 bottles that hold 20 constituents each (invented, written to a temporary folder; the tables
alone, imports apart). Old and new take turns; medians, and the ratio old over new. `--profile` prints what takes
longest in this tree instead.
"""

from __future__ import annotations

import argparse
import csv
import os
import resource
import subprocess
import sys
import tempfile
from pathlib import Path
from statistics import median

import numpy as np

COMPILED = str(Path(tempfile.gettempdir()) / "reaccord-compiled")
"""Folder of compiled modules: the trees measured stay as they are."""
HERE = Path(__file__).resolve().parents[1] / "src"
READ = """
import sys, time
from pathlib import Path
from reaccord.study.load import load_study
begun = time.process_time()
load_study(Path(sys.argv[1]))
print(time.process_time() - begun)
"""
SETTINGS = """
[target]
table = "target.csv"
[shelf]
bottles = "bottles.csv"
compositions = "compositions.csv"
[batch]
accord_g = 10
[balance]
readability_g = 0.001
minimum_g = 0.02
"""
BOTTLES, HELD, CONSTITUENTS = 250, 20, 150


def shelf(folder: Path) -> Path:
    """Write the shelf into a folder, return its study file."""
    rng = np.random.default_rng(20261128)
    names = [f"constituent {k:03d}" for k in range(CONSTITUENTS)]
    parts = []
    for i in range(BOTTLES):
        shares = rng.lognormal(0.0, 1.5, HELD)
        chosen = rng.choice(CONSTITUENTS, HELD, replace=False)
        parts += [
            {"material": f"Natural {i:03d}", "part": names[k], "share": f"{share:.4g}"}
            for k, share in zip(chosen, 95 * shares / shares.sum(), strict=True)
        ]
    tables = {
        "target.csv": [{"constituent": name, "S1": f"{95 / 60:.4g}"} for name in names[:60]],
        "bottles.csv": [
            {"material": f"Natural {i:03d}", "price_per_kg": f"{rng.lognormal(4, 1):.2f}"} for i in range(BOTTLES)
        ],
        "compositions.csv": parts,
    }
    for name, rows in tables.items():
        with (folder / name).open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, list(rows[0]))
            writer.writeheader()
            writer.writerows(rows)
    (folder / "study.toml").write_text(SETTINGS, encoding="utf-8")
    return folder / "study.toml"


def process_seconds(source: Path, words: list[str]) -> float:
    """Return the processor's seconds of one process."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    _run(source, ["-m", "reaccord", *words])
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def reading_seconds(source: Path, study: Path) -> float:
    """Return the processor's seconds of reading a study, imports apart."""
    return float(_run(source, ["-c", READ, str(study)]))


def _run(source: Path, words: list[str]) -> str:
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    environment |= {"PYTHONPATH": str(source), "PYTHONPYCACHEPREFIX": COMPILED}
    done = subprocess.run([sys.executable, *words], env=environment, capture_output=True, text=True, check=True)
    return done.stdout


def main() -> None:
    """Run what the options ask for and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--old", type=Path, help="the source folder of another tree")
    parser.add_argument("--studies", default="examples/geranium/study.toml,examples/geranium/candle.toml")
    parser.add_argument("--repeats", type=int, default=5)
    parser.add_argument("--profile", action="store_true")
    options = parser.parse_args()
    if options.old is not None and not (options.old / "reaccord").is_dir():
        parser.error(f"no source of reaccord in {options.old}")
    studies = options.studies.split(",")
    if options.profile:
        words = ["-X", "importtime", "-m", "cProfile", "-s", "cumtime", "-m", "reaccord", "fit", studies[0]]
        subprocess.run([sys.executable, *words], env=os.environ | {"PYTHONPATH": str(HERE)}, check=True)
        return
    with tempfile.TemporaryDirectory() as folder:
        large = shelf(Path(folder))
        tasks = {f"fit {Path(path).parent.name}/{Path(path).stem}": ["fit", path] for path in studies}
        tasks["--help"] = ["--help"]
        print(f"seconds of the processor, medians of {options.repeats}")
        for name, words in tasks.items():
            _print(name, options, lambda source, words=words: process_seconds(source, words))
        _print("250 bottles read", options, lambda source: reading_seconds(source, large))


def _print(name: str, options: argparse.Namespace, measure: object) -> None:
    assert callable(measure)
    trees = [HERE] if options.old is None else [HERE, options.old]
    took: dict[Path, list[float]] = {tree: [] for tree in trees}
    for number in range(options.repeats + 1):
        for tree in trees:
            seconds = measure(tree)
            if number:  # the first compiles
                took[tree].append(seconds)
    new = median(took[HERE])
    old = (
        ""
        if options.old is None
        else f"   old {median(took[options.old]):6.2f}   ratio {median(took[options.old]) / new:5.2f}"
    )
    print(f"{name:>24}   new {new:6.2f}{old}", flush=True)


if __name__ == "__main__":
    main()
