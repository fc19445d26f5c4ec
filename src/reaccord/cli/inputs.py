"""What a command reads: a study, formulas of it; outputs must not fall on their files."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from reaccord.cli.options import Options
from reaccord.findings import Findings, InvalidInput, Place

if TYPE_CHECKING:
    from reaccord.contract import Budget
    from reaccord.domain.stock import StockKey
    from reaccord.domain.study import Study
    from reaccord.findings import Finding
    from reaccord.questions.in_use import Formula
    from reaccord.study.offered import Offered

    Amounts = Mapping[StockKey, float]


class Agreed(NamedTuple):
    """A study and a formula of it, gram by stock; `status` is that of the search, `done` where none was needed.

    `order` are the stocks that its table numbers, in the order of the numbers.
    """

    study: Study
    amounts: Amounts
    status: str
    warnings: tuple[Finding, ...]
    order: tuple[StockKey, ...] = ()

    @property
    def proven(self) -> bool:
        """Whether no search was cut short for it."""
        return self.status in {"proven", "done"}


def read_study(path: Path, options: Options, *outputs: Path | None) -> Study:
    """Read a study from its file or folder; `outputs` are those of the command's own."""
    return _read(path, (), options, Findings(), outputs)


def study_of_samples(path: Path, samples: Sequence[str], options: Options) -> Study:
    """Read a study with these samples of its target in place of its own."""
    return _read(path, (), options, Findings(), samples=samples)


def study_and_formula(path: Path, formula: Path | None, options: Options) -> tuple[Study, Agreed | None]:
    """Read a study, and the formula where one is given; every finding of both at once."""
    if formula is None:
        return read_study(path, options), None
    study, (agreed,) = study_and_formulas(path, [formula], options, names_nothing)
    return study, agreed


def study_and_formulas(
    path: Path, formulas: Sequence[Path], options: Options, refusal: Callable[[Study, Amounts], str]
) -> tuple[Study, list[Agreed]]:
    """Read a study and formulas of it; every finding at once.

    `refusal` says why a formula that pours something is no use, blank if it is; each comes with the study's
    inputs and its own.
    """
    from reaccord.answer.formula import match_formula
    from reaccord.tables.read import read_formula

    findings = Findings()
    tables = [read_formula(formula, findings) for formula in formulas]
    study = _read(path, formulas, options, findings)
    found = []
    for formula, table in zip(formulas, tables, strict=True):
        if table is None:  # a finding says why
            continue
        amounts = match_formula(study, table[0], findings)
        sound = all(error.place.file != formula.name for error in findings.errors)
        if sound and not any(amounts.values()):
            findings.error("empty-table", "no line pours anything.", Place(formula.name))
        elif sound and (why := refusal(study, amounts)):
            findings.error("nothing-named", why, Place(formula.name))
        numbered = [(line.order, key) for line, key in zip(table[0], amounts, strict=False) if line.order]
        found.append((amounts, table[1], tuple(key for _, key in sorted(numbered))))
    findings.raise_errors()
    warnings = (*study.warnings, *findings.warnings)
    return study, [
        Agreed(replace(study, inputs=(*study.inputs, file)), amounts, "done", warnings, order)
        for amounts, file, order in found
    ]


def study_and_formula_in_use(path: Path, file: Path, without: Sequence[str], options: Options) -> tuple[Study, Formula]:
    """Read a study and a formula in use, of which some materials are to be done without; every finding at once."""
    from reaccord.questions.in_use import Formula, formula_in_use
    from reaccord.tables.read import read_formula

    findings = Findings()
    table = read_formula(file, findings)
    study = _read(path, [file], options, findings)
    found = Formula({})
    if table is not None:
        found = formula_in_use(study, table[0], without, Place("--without"), findings)
        if not found.amounts and not found.lost and not findings.errors:
            findings.error("empty-table", "no line pours anything.", Place(file.name))
        elif not found.lost and not findings.errors and (why := names_nothing(study, found.amounts)):
            findings.error("nothing-named", why, Place(file.name))
    findings.raise_errors()
    assert table is not None, "a table that cannot be read is an error"
    warnings = (*study.warnings, *findings.warnings)
    return replace(study, inputs=(*study.inputs, table[1]), warnings=warnings), found


def study_and_offers(path: Path, catalogue: Path | None, options: Options) -> Offered:
    """Read a study and what could be bought beside its shelf; every finding of the catalogue at once."""
    from reaccord.study.offered import offered
    from reaccord.tables.read import read_catalogue

    study = read_study(path, options)
    if catalogue is None:
        return offered(study)
    options.guard([catalogue])
    findings = Findings()
    found = read_catalogue(catalogue, study.tables, findings)
    findings.raise_errors()
    assert found is not None, "a table that cannot be read is an error"
    packs, file = found
    return offered(replace(study, inputs=(*study.inputs, file), warnings=(*study.warnings, *findings.warnings)), packs)


def closest(study: Study, budget: Budget) -> Agreed:
    """Solve for the closest formula of a study."""
    from reaccord.answer.fit import fit

    found = fit(study, budget)
    return Agreed(study, found.amounts, found.answer.status, study.warnings)


def _read(
    path: Path,
    formulas: Sequence[Path],
    options: Options,
    findings: Findings,
    outputs: Sequence[Path | None] = (),
    samples: Sequence[str] = (),
) -> Study:
    """Read a study after the formulas; where it is wrong, what was found in them is told as well."""
    from reaccord.study.load import load_study, study_file

    file = study_file(path)
    try:
        study = load_study(file, samples)
    except InvalidInput as fault:
        findings.extend((*fault.errors, *fault.warnings))
        findings.raise_errors()
        raise
    options.guard([file, *(file.parent / item.file for item in study.inputs), *formulas], *outputs)
    return study


def names_nothing(study: Study, amounts: Amounts) -> str:
    """Say so if a formula pours none of the target's constituents."""
    stocks = study.every_stock
    named = {name for row in study.target.rows if row.kind == "named" for name in row.members}
    poured = [stock for stock in stocks if amounts.get(stock.key, 0.0) > 0]
    if any(stock.content.typical.get(name, 0.0) > 0 for stock in poured for name in named):
        return ""
    return "no line pours any of the target's constituents."
