"""The formula that a command works on: the one already agreed (`--formula FILE`), or the closest one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from reaccord.answer.formula import match_formula
from reaccord.cli.result import Options, guard_outputs
from reaccord.cli.sources import inputs_of, study_beside
from reaccord.domain.study import Study
from reaccord.findings import Findings, Place
from reaccord.tables.read import read_formula

if TYPE_CHECKING:
    from reaccord.contract import Effort
    from reaccord.domain.stock import StockKey
    from reaccord.findings import Finding


@dataclass(frozen=True)
class Agreed:
    """A study and a formula of it, gram by stock; `status` is that of the search, `done` where none was needed."""

    study: Study
    amounts: Mapping[StockKey, float]
    status: str
    warnings: tuple[Finding, ...]

    @property
    def proven(self) -> bool:
        """Whether no search was cut short for it."""
        return self.status in {"proven", "done"}


def study_and_formula(path: Path, formula: Path | None, options: Options) -> tuple[Study, Agreed | None]:
    """Read a study, and the formula where one is given; every finding of both at once."""
    findings = Findings()
    found = read_formula(formula, findings) if formula else None
    study = study_beside(path, findings)
    guard_outputs(options, [*inputs_of(path, study), *([formula] if formula else [])])
    if formula is None:
        return study, None
    amounts = match_formula(study, found[0] if found else (), findings)
    if not findings.errors and not _holds_any(study, amounts):
        findings.error("nothing-named", "no line pours any of the target's constituents.", Place(formula.name))
    findings.raise_errors()
    assert found is not None
    study = replace(study, inputs=(*study.inputs, found[1]))
    return study, Agreed(study, amounts, "done", (*study.warnings, *findings.warnings))


def _holds_any(study: Study, amounts: Mapping[StockKey, float]) -> bool:
    stocks = (*study.stocks, *(item.stock for item in study.set_aside))
    named = {name for row in study.target.rows if row.kind == "named" for name in row.members}
    return any(
        amounts.get(stock.key, 0.0) > 0 and any(stock.content.typical.get(name, 0.0) > 0 for name in named)
        for stock in stocks
    )


def closest(study: Study, effort: Effort) -> Agreed:
    """Solve for the closest formula of a study."""
    from reaccord.answer.fit import fit

    found = fit(study, effort)
    return Agreed(study, found.amounts, found.answer.status, study.warnings)
