"""What every command takes and what it returns."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from reaccord.findings import Finding

Output = Literal["table", "json", "csv"]
FORMS: dict[str, Output] = {".json": "json", ".csv": "csv"}
"""What an ending of `--out` asks for; any other that is taken asks for a table."""


@dataclass(frozen=True)
class Options:
    """What every command takes; `own` is an `--out` that the command writes itself (a picture, lines of JSON)."""

    output: Output | None = None
    out: Path | None = None
    quiet: bool = False
    log: Path | None = None
    own: Path | None = None

    @property
    def form(self) -> Output:
        """The form asked for, else the one the ending of the output file says, else a table."""
        if self.output is not None:
            return self.output
        return FORMS.get(self.out.suffix.lower() if self.out else "", "table")


@dataclass(frozen=True)
class Result:
    """A command's result: data for scripts, `text(width)` for people, `csv()` for tables."""

    command: str
    status: str
    exit_code: int
    data: Mapping[str, Any]
    text: Callable[[int], str]
    csv: Callable[[], str]
    warnings: tuple[Finding, ...] = ()


def guard_outputs(options: Options, inputs: Iterable[Path]) -> None:
    """Refuse outputs that cannot be written, or that would fall on an input: before a long search."""
    from reaccord.report.files import need_place, refuse_inputs

    sources = list(inputs)
    outputs = {"--out": options.out or options.own, "--log": options.log}
    for path in outputs.values():
        if path is not None:
            refuse_inputs(path, sources)
            need_place(path, append=path is options.log)
