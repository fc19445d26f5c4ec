"""`reaccord overdose`: a series of vials with one constituent at given multiples."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from reaccord.cli.agreed import closest, study_and_formula
from reaccord.cli.options import Limits
from reaccord.cli.result import Options, Result
from reaccord.cli.searching import Searching
from reaccord.findings import UsageError
from reaccord.report.overdose import overdose_csv, overdose_data, overdose_text

MODES = ("spike", "refit")
MOST_GRAMS = 1_000_000_000


@dataclass(frozen=True)
class Wish:
    """What `overdose` is asked for."""

    of: str
    times: str
    mode: str
    vial_g: float | None
    formula: Path | None


def grams_of_text(text: str | None) -> float | None:
    """Read `--vial-g`.

    Raises
    ------
    UsageError
        If it is not a number of grams above zero.
    """
    from reaccord.tables.cells import BadCell, number

    if text is None:
        return None
    try:
        grams = number(text.strip())
    except BadCell as fault:
        raise UsageError(f"--vial-g: {fault}") from None
    if not 0 < grams <= MOST_GRAMS:
        raise UsageError(f"--vial-g must be above 0 and at most {MOST_GRAMS:,} g, not {text}.")
    return grams


def run(path: Path, wish: Wish, limits: Limits, options: Options) -> Result:
    """Work out the series."""
    from reaccord.questions.overdose.refit import refit
    from reaccord.questions.overdose.series import overdose
    from reaccord.questions.overdose.wanted import read_times, read_wanted

    if wish.mode not in MODES:
        raise UsageError(f'--mode takes spike or refit, not "{wish.mode}".')
    if wish.mode == "refit" and wish.vial_g is not None:
        raise UsageError("--vial-g is for spikes: with --mode refit each multiple is a batch of its own.")
    times = read_times(wish.times, least=1.0 if wish.mode == "spike" else 0.0)
    study, agreed = study_and_formula(path, wish.formula, options)
    wanted = read_wanted(study, wish.of)
    with Searching(study, limits, quiet=options.quiet) as searching:
        agreed = agreed or closest(study, searching.budget)
        if wish.mode == "spike":
            series = overdose(agreed.study, agreed.amounts, wanted, times, wish.vial_g)
        else:
            series = refit(agreed.study, agreed.amounts, wanted, times, searching.budget)
    proven = agreed.proven and series.proven
    return Result(
        "overdose",
        "done" if proven else "feasible",
        searching.code(proven=proven),
        overdose_data(series),
        lambda width: overdose_text(series, width),
        lambda: overdose_csv(series),
        agreed.warnings,
    )
