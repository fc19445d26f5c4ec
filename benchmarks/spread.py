"""Draws per second beside a plain loop that evaluates the formula again for each draw with pandas.

    python -m benchmarks.spread --draws 10000 --loop 30

The loop does what a spreadsheet does: it writes the drawn shares into the table of compositions, opens the blends
of every bottle poured by joining tables, and sums up the constituents. Both get the same shares, so that their
residuals can be compared. Prints ratios, asserts nothing. The example's data are invented.
"""

from __future__ import annotations

import argparse
import time
from pathlib import Path

import numpy as np
import pandas as pd

from reaccord.answer.fit import fit
from reaccord.contract import FloatArray
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study
from reaccord.questions.spread.draws import Trials, draw
from reaccord.questions.spread.variation import Variation
from reaccord.questions.spread.watched import Watched
from reaccord.study.load import load_study

EXAMPLE = Path(__file__).parents[1] / "examples" / "geranium" / "study.toml"


def parts_of(variation: Variation) -> pd.DataFrame:
    """Return the table of compositions, one row a part; `number` is the varied row, -1 for none."""
    settled = variation._settled
    rows = [
        {
            "material": material,
            "kind": part.kind,
            "part": part.name,
            "share": part.share,
            "strength": part.strength,
            "number": variation._numbers.get(part.place, -1),
        }
        for material, parts in settled.parts.items()
        for part in parts
    ]
    return pd.DataFrame(rows)


def opened(parts: pd.DataFrame, poured: pd.DataFrame) -> pd.Series:
    """Return gram of each constituent in what is poured (material, grams neat), blends opened level by level."""
    waiting, found = poured, []
    while len(waiting):
        inside = waiting.merge(parts, on="material")
        inside["grams"] = inside["grams"] * inside["share"]
        found.append(inside[inside["kind"] == "constituent"][["part", "grams"]])
        blends = inside[inside["kind"] == "material"]
        waiting = pd.DataFrame({"material": blends["part"], "grams": blends["grams"] * blends["strength"]})
    return pd.concat(found).groupby("part")["grams"].sum()


def loop(study: Study, variation: Variation, amounts: dict[StockKey, float], shares: FloatArray) -> FloatArray:
    """Return the residuals of each draw, shape (draws, named and foreign rows)."""
    parts = parts_of(variation)
    poured = pd.DataFrame([{"material": k.material, "grams": g * k.strength} for k, g in amounts.items()])
    rows = [row for row in study.target.rows if row.kind != "undeclared"]
    basis_g = sum(opened(parts, poured).reindex(sorted(row.members)).sum() for row in rows if row.kind == "named")
    found = []
    for drawn in shares:
        table = parts.copy()
        varied = table["number"] >= 0
        table.loc[varied, "share"] = drawn[table.loc[varied, "number"]]
        grams = opened(table, poured)
        achieved = [grams.reindex(sorted(row.members)).sum() / basis_g for row in rows]
        found.append([row.distance(share) for row, share in zip(rows, achieved, strict=True)])
    return np.array(found)


def main() -> None:
    """Time both and print the ratio."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--study", type=Path, default=EXAMPLE)
    words.add_argument("--draws", type=int, default=10_000)
    words.add_argument("--loop", type=int, default=30, help="draws for the loop")
    asked = words.parse_args()
    study = load_study(asked.study)
    amounts = dict(fit(study).amounts)
    variation = Variation(study)
    watched = Watched(study, variation, amounts)
    trials = Trials(watched, asked.draws, 1, 0)
    start = time.perf_counter()
    trials.of(amounts)
    ours = asked.draws / (time.perf_counter() - start)
    few = Trials(watched, asked.loop, 1, 0)
    deltas = np.concatenate(list(draw(variation.rows, asked.loop, few._shares)))
    shares = deltas + np.array([row.mean for row in variation.rows])
    start = time.perf_counter()
    slow = loop(study, variation, amounts, shares)
    theirs = asked.loop / (time.perf_counter() - start)
    totals = few.of(amounts).judged.totals
    same = few.residuals(few.quantities(amounts), totals.named_g)[:, : slow.shape[1]]
    print(f"{len(variation.rows)} varied rows, {len(amounts)} lines, {asked.draws} draws")
    print(f"ours   {ours:12.0f} draws per second, quantiles and limits included")
    print(f"pandas {theirs:12.1f} draws per second, residuals only")
    print(f"ratio  {ours / theirs:12.0f}; largest difference of a residual {np.abs(same - slow).max():.1e}")


if __name__ == "__main__":
    main()
