"""`reaccord spread`: how the result moves with natural variation."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from reaccord.cli.agreed import closest, study_and_formula
from reaccord.cli.options import Limits
from reaccord.cli.result import Options, Result
from reaccord.cli.searching import Searching
from reaccord.findings import UsageError
from reaccord.report.spread import spread_csv, spread_data, spread_text


@dataclass(frozen=True)
class Wish:
    """What `spread` is asked for; `hold` is the share of draws in which restricted limits must hold."""

    draws: int
    seed: int
    robust: bool
    hold: float
    formula: Path | None


def hold_of(text: str | None, robust: bool) -> float:
    """Read `--hold`: `all`, or a share with its sign.

    Raises
    ------
    UsageError
        If it is neither, or stands without `--robust`.
    """
    from reaccord.tables.cells import BadCell, share

    if text is None:
        return 1.0
    if not robust:
        raise UsageError("--hold says how the robust formula is found: it needs --robust.")
    if text.strip().lower() == "all":
        return 1.0
    try:
        value = share(text.strip(), sign_needed=True)
    except BadCell as fault:
        raise UsageError(f'--hold: {fault} Write "95 %", or all.') from None
    if not 0.5 <= value <= 1:
        raise UsageError(f"--hold must be from 50 % to 100 %, not {text}.")
    return value


def run(path: Path, wish: Wish, limits: Limits, options: Options) -> Result:
    """Draw compositions and judge the formula for each draw."""
    from reaccord.questions.spread.spread import spread

    study, agreed = study_and_formula(path, wish.formula, options)
    with Searching(study, limits, quiet=options.quiet) as searching:
        agreed = agreed or closest(study, searching.budget)
        found = spread(
            agreed.study,
            agreed.amounts,
            wish.draws,
            wish.seed,
            robust=wish.robust,
            hold=wish.hold,
            budget=searching.budget,
        )
    proven = agreed.proven and (found.compared is None or found.compared.answer.status == "proven")
    return Result(
        "spread",
        "done" if proven else "feasible",
        searching.code(proven=proven),
        spread_data(found),
        lambda width: spread_text(found, width),
        lambda: spread_csv(found),
        agreed.warnings,
    )
