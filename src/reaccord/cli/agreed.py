"""The formula that a command works on: the one already agreed (`--formula FILE`), or the closest one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from reaccord.cli.interrupt import Interrupt, Interrupted
from reaccord.cli.progress import Progress
from reaccord.cli.result import Options, guard_outputs
from reaccord.cli.sources import inputs_of
from reaccord.findings import Findings, InvalidInput, NoAnswer, Place, ReaccordError
from reaccord.formula import match_formula
from reaccord.load import Study, load_study
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


def study_and_formula(path: Path, formula: Path | None, options: Options) -> tuple[Study, Agreed | None]:
    """Read a study, and the formula where one is given; every finding of both at once."""
    findings = Findings()
    found = read_formula(formula, findings) if formula else None
    try:
        study = load_study(path)
    except InvalidInput as fault:
        findings.extend((*fault.errors, *fault.warnings))
        findings.raise_errors()
        raise
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


class Searching:
    """An effort that Ctrl-C ends, with progress on stderr; `interrupted` afterwards."""

    def __init__(self, seconds: float, gap: float, options: Options) -> None:
        from reaccord.contract import Effort

        self._interrupt, self._progress = Interrupt(), Progress(options.quiet)
        self.effort: Effort = Effort(gap, seconds, lambda: self._interrupt.pressed, self._progress)
        self._caught = self._interrupt.catch()

    @property
    def interrupted(self) -> bool:
        """Whether Ctrl-C was pressed."""
        return self._interrupt.pressed

    def __enter__(self) -> Searching:
        self._caught.__enter__()
        return self

    def __exit__(self, kind: type[BaseException] | None, fault: BaseException | None, trace: object) -> None:
        self._caught.__exit__(None, None, None)
        self._progress.done()
        if isinstance(fault, NoAnswer) and self.interrupted:
            raise Interrupted("Interrupted before any formula was found.") from None

    def closest(self, study: Study) -> Agreed:
        """Return the closest formula of a study."""
        from reaccord.fit import fit

        try:
            found = fit(study, self.effort)
        except ReaccordError as error:
            error.warnings = study.warnings
            raise
        return Agreed(study, found.amounts, found.answer.status, study.warnings)

    def code(self, proven: bool) -> int:
        """Return the exit code."""
        return 0 if proven else 130 if self.interrupted else 5
