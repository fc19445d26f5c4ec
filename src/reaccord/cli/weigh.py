"""`reaccord weigh`: what to make and what to weigh, in which order."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from reaccord.cli import numbers
from reaccord.cli import options as opt
from reaccord.cli.command import command
from reaccord.cli.result import Result

if TYPE_CHECKING:
    from reaccord.cli.inputs import Agreed
    from reaccord.domain.stock import StockKey
    from reaccord.domain.study import Study


@command(out=opt.SHEET)
def weigh(
    study: opt.Study,
    accord_g: Annotated[
        str | None, typer.Option("--accord-g", metavar="N", help="Another batch: the same parts for N gram of accord.")
    ] = None,
    order: Annotated[
        str | None, typer.Option("--order", metavar="NAME;...", help="Weigh these first, in this order.")
    ] = None,
    strength: Annotated[
        str | None, typer.Option("--strength", metavar="X", help="Of the vials to smell side by side; default 10 %.")
    ] = None,
    vial_g: Annotated[
        str | None, typer.Option("--vial-g", metavar="N", help="Gram in each of these vials; default 5.")
    ] = None,
    formula: opt.Formula = None,
    *,
    limits: opt.Limits,
    options: opt.Options,
) -> Result:
    """Write the sheet for the bench: stocks to make, what to weigh."""
    batch, vial = numbers.grams_of("--accord-g", accord_g), numbers.grams_of("--vial-g", vial_g)
    share = None if strength is None else numbers.share_of("--strength", strength)
    from reaccord.balance.sheet import rescaled, sheet
    from reaccord.balance.usual_vials import usual_vials
    from reaccord.cli.inputs import closest, study_and_formula
    from reaccord.cli.searching import Searching
    from reaccord.report.sheet_files import sheet_file
    from reaccord.report.weigh import weigh_csv, weigh_data, weigh_text

    read, agreed = study_and_formula(study, formula, options)
    first = None if order is None else _first(read, order, agreed)
    with Searching(read, limits, quiet=options.quiet) as searching:
        agreed = agreed or closest(read, searching.budget)
    asked, amounts = agreed.study, agreed.amounts
    if batch is not None:
        asked, amounts = rescaled(asked, amounts, batch)
    found = sheet(asked, amounts, agreed.order if first is None else first)
    vials = usual_vials(found, share, vial)
    return Result(
        weigh_data(found, vials),
        lambda width: weigh_text(found, vials, width),
        lambda: weigh_csv(found),
        agreed.status,
        searching.code(proven=agreed.proven),
        agreed.warnings,
        lambda ending: sheet_file(found, vials, ending),
    )


def _first(study: Study, order: str, agreed: Agreed | None) -> list[StockKey]:
    """Return the stocks that are weighed first."""
    from reaccord.answer.called import stock_called

    stocks = study.every_stock
    preferred = agreed.amounts if agreed else {}
    return [stock_called(name.strip(), stocks, preferred, "--order").key for name in order.split(";") if name.strip()]
