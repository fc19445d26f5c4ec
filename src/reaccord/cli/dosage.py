"""`reaccord dosage`: restricted substances, the highest dosage in each product, what a label must name."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from reaccord.cli import options as opt
from reaccord.cli.command import command
from reaccord.cli.result import Result
from reaccord.findings import NoFormula


@command()
def dosage(
    study: opt.Study,
    formula: opt.Formula = None,
    declaration: Annotated[
        Path | None, opt.path_option("--declaration", "Your own list of what a label names (CSV); default: the EU's.")
    ] = None,
    *,
    limits: opt.Limits,
    options: opt.Options,
) -> Result:
    """Add up restricted substances, find the highest dosage in each product and what to declare."""
    from reaccord.cli.inputs import closest, study_and_formula
    from reaccord.cli.searching import Searching
    from reaccord.report.dosage import Safety, dosage_csv, dosage_data, dosage_text
    from reaccord.safety import declaration as label
    from reaccord.safety import dosage as question

    read, agreed = study_and_formula(study, formula, options)
    label.read_list(declaration, read.settings.limits.use)  # what is wrong with it is said before a long search
    if declaration is not None:
        options.guard([declaration])
    with Searching(read, limits, quiet=options.quiet) as searching:
        agreed = agreed or closest(read, searching.budget)
    found = question.dosage(agreed.study, agreed.amounts)
    safety = Safety(found, label.declared_by(agreed.study, found.judged, declaration))
    code = NoFormula.exit_code if found.broken else searching.code(proven=agreed.proven)
    status = NoFormula.status if found.broken else "done" if agreed.proven else "feasible"
    return Result(
        dosage_data(safety),
        lambda width: dosage_text(safety, width),
        lambda: dosage_csv(safety),
        status,
        code,
        agreed.warnings,
    )
