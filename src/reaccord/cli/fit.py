"""`reaccord fit`: the closest formula, and the proof of it as a file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from reaccord.cli import options as opt
from reaccord.cli.command import command
from reaccord.cli.result import Later, Result
from reaccord.findings import UsageError

if TYPE_CHECKING:
    from reaccord.answer.fitted import Fit
    from reaccord.cli.searching import Searching
    from reaccord.domain.study import Study
    from reaccord.questions.prices.run import Prices
    from reaccord.report.notes import Note


@command(out=opt.PICTURE)
def fit(
    study: opt.Study,
    certificate: Annotated[
        Path | None, opt.path_option("--certificate", "Also write a proof that anyone can check.")
    ] = None,
    prices: Annotated[
        bool, typer.Option("--prices", help="Also say what each limit costs and what would help.")
    ] = False,
    *,
    limits: opt.Limits,
    options: opt.Options,
) -> Result:
    """Find the closest formula, with residuals and reasons."""
    from reaccord.answer import fit as answer
    from reaccord.answer.formula import formula_rows
    from reaccord.cli.inputs import read_study
    from reaccord.cli.searching import Searching
    from reaccord.report.csv_table import formula_csv
    from reaccord.report.notes import notes_on
    from reaccord.report.terminal import fit_text

    read = read_study(study, options, certificate)
    if certificate is not None:
        _need_proof(certificate, read, options)
    said, warnings = None, read.warnings
    with Searching(read, limits, quiet=options.quiet) as searching:
        found = answer.fit(read, searching.budget)
        if certificate is not None:
            from reaccord.report.certificate import write_certificate

            said, weaker = write_certificate(certificate, found, searching.budget)
            warnings = (*warnings, *weaker)
        noted = notes_on(found)
        _told_beside(found, options)
        priced = _priced(found, searching, options.quiet) if prices else None
    return Result(
        Later(lambda: _data(found, noted, priced, said)),
        lambda width: fit_text(found, width, noted, _helps(priced, found, width)) + _written(said, width),
        lambda: formula_csv(formula_rows(found.judged)),
        found.answer.status,
        searching.code(proven=found.answer.status == "proven"),
        warnings,
        lambda ending: _picture(found, noted, ending),
    )


def _told_beside(found: Fit, options: opt.Options) -> tuple[object, ...]:
    """Solve for what is told beside the formula, as long as the search is watched; what is not told is not solved."""
    from reaccord.report.verdict import rounding_tells

    forms = {options.form, *([options.form_of_file] if options.out else [])} | ({"json"} if options.log else set())
    if forms == {"csv"}:
        return ()
    if "json" in forms or rounding_tells(found):
        return found.reasons, found.rounded_bound, found.steps_proven
    return (found.reasons,)


def _data(
    found: Fit, noted: Sequence[Note], priced: Prices | None, certificate: Mapping[str, Any] | None
) -> Mapping[str, Any]:
    """Return the result as plain data, with what was asked for beside it."""
    from reaccord.report.data import fit_data

    data = fit_data(found, noted)
    if priced is not None:
        from reaccord.report.prices import prices_data

        data |= prices_data(priced)
    return data if certificate is None else data | {"certificate": certificate}


def _picture(found: Fit, noted: Sequence[Note], ending: str) -> bytes:
    """Draw what is off the target."""
    from reaccord.report.residual_picture import fit_picture

    return fit_picture(found, noted, ending)


def _priced(found: Fit, searching: Searching, quiet: bool) -> Prices:
    """Price the limits within the time that is left."""
    from reaccord.cli.progress import bar
    from reaccord.questions.prices.run import prices
    from reaccord.questions.processes import usable_processors

    with bar(quiet, "questions") as told:
        return prices(found, searching.budget.rest(), workers=usable_processors(), told=told)


def _helps(priced: Prices | None, found: Fit, width: int) -> str:
    """Say what would help, if that was asked."""
    if priced is None:
        return ""
    from reaccord.report.prices import prices_text

    return prices_text(priced, found.judged, width)


def _written(certificate: Mapping[str, Any] | None, width: int) -> str:
    """Say what certificate was written, if one was."""
    if certificate is None:
        return ""
    from reaccord.report.certificate import written_text

    return written_text(certificate, width)


def _need_proof(certificate: Path, study: Study, options: opt.Options) -> None:
    """Say before the search that a certificate cannot be made, or would fall on another output."""
    from reaccord.report.files import same_file

    if study.settings.fit.measure != "squares":
        raise UsageError(
            f"--certificate proves sums of squares; the measure of this study is {study.settings.fit.measure}."
        )
    for name, other in (("--out", options.out or options.own), ("--log", options.log)):
        if same_file(other, certificate):
            raise UsageError(f"--certificate and {name} name the same file.")
