"""`reaccord compare`: given formulas, judged the same way; several side by side."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from reaccord.cli import options as opt
from reaccord.cli.command import command
from reaccord.cli.result import Result
from reaccord.findings import NoFormula

if TYPE_CHECKING:
    from reaccord.domain.stock import StockKey
    from reaccord.domain.study import Study


@command(out=opt.PICTURE)
def compare(
    study: opt.Study,
    formulas: Annotated[list[Path], opt.path_argument("FORMULA", "Formulas (CSV), one or more.")],
    options: opt.Options,
) -> Result:
    """Judge given formulas the same way, optimise nothing."""
    from reaccord.cli.inputs import study_and_formulas
    from reaccord.report.compare import broken_limits, compare_csv, compare_data, compare_text, compared
    from reaccord.report.residual_picture import compared_picture, need_marks

    if options.own is not None:
        need_marks(len(formulas))
    _, agreed = study_and_formulas(study, formulas, options, _why_not)
    found = [compared(str(path), each.study, each.amounts) for path, each in zip(formulas, agreed, strict=True)]
    broken = [warning for each in found for warning in broken_limits(each)]
    return Result(
        compare_data(found),
        lambda width: compare_text(found, width),
        lambda: compare_csv(found),
        NoFormula.status if broken else "done",
        NoFormula.exit_code if broken else 0,
        (*agreed[0].warnings, *broken),
        lambda ending: compared_picture(found, ending),
    )


def _why_not(study: Study, amounts: Mapping[StockKey, float]) -> str:
    """Say why a formula cannot be judged, blank if it can."""
    from reaccord.answer.judge import judge

    try:
        judge(study, amounts)
    except ValueError as fault:
        return f"{fault}."
    return ""
