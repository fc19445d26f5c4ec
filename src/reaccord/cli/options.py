"""Options that commands share: the help text of each stands here once, and what they ask for."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Annotated, Any, Literal, NamedTuple, cast, get_args

import typer

from reaccord.cli import numbers
from reaccord.findings import UsageError
from reaccord.report.pictures import FORMS as PICTURES
from reaccord.report.pictures import need_library

Output = Literal["table", "json", "csv"]
FORMS: dict[str, Output] = {".json": "json", ".csv": "csv"}
"""What an ending of `--out` asks for; any other that is taken asks for a table."""


def path_argument(metavar: str, help: str) -> Any:
    """Declare an argument that names a file or folder; whether it can be read is said where it is read."""
    return typer.Argument(metavar=metavar, help=help, show_default=False, readable=False)


def path_option(name: str, help: str, metavar: str = "FILE") -> Any:
    """Declare an option that names a file."""
    return typer.Option(name, metavar=metavar, help=help, readable=False)


Study = Annotated[Path, path_argument("STUDY", "The study: its file (TOML), or the folder it is in.")]
Studies = Annotated[list[Path], path_argument("STUDY", "Studies: their files (TOML) or folders, one or more.")]
Formula = Annotated[Path | None, path_option("--formula", "Take this formula (CSV) as it is and solve nothing again.")]
Seconds = Annotated[str | None, typer.Option("--seconds", metavar="N", help="Stop the search after N seconds.")]
Gap = Annotated[
    str | None,
    typer.Option("--gap", metavar="X", help="Stop when proven within this: 0.001 or '0.1 %'; default 0.1 %."),
]
OutputForm = Annotated[
    str | None, typer.Option("--output", metavar="table|json|csv", help="Form of the result; default table.")
]
Quiet = Annotated[bool, typer.Option("--quiet", help="No warnings and no progress on stderr.")]
Log = Annotated[Path | None, path_option("--log", "Append one line of JSON to a log.")]
Note = Annotated[str | None, typer.Option("--note", metavar="TEXT", help="A note of yours, kept in the log.")]

PLAIN = (*FORMS, ".txt")
"""Endings of `--out` for a result that is printed as it is; none at all is as `.txt`."""


class Limits(NamedTuple):
    """When a search ends: after so many seconds, or proven within this gap."""

    seconds: float
    gap: float


class Options(NamedTuple):
    """What every command takes; `own` is an `--out` that is no form of what is printed (a picture, lines of JSON)."""

    output: Output | None = None
    out: Path | None = None
    quiet: bool = False
    log: Path | None = None
    own: Path | None = None
    note: str = ""

    @property
    def form(self) -> Output:
        """The form that is printed."""
        return self.output or "table"

    @property
    def form_of_file(self) -> Output:
        """The form of the output file: the one asked for, else the one its ending says, else a table."""
        return self.output or FORMS.get(self.out.suffix.lower() if self.out else "", "table")

    def guard(self, inputs: Iterable[Path] = (), *others: Path | None) -> None:
        """Refuse outputs that cannot be written, or that would fall on an input: before a long search.

        `others` are the command's own output files.
        """
        from reaccord.report.files import need_place, refuse_inputs
        from reaccord.tables.workbook import workbook_of

        sources = [workbook_of(path) for path in inputs]
        for path in (self.out, self.own, self.log, *others):
            if path is not None:
                refuse_inputs(path, sources)
                need_place(path, append=path is self.log)


class Out(NamedTuple):
    """What `--out` takes: `printed` endings are those of a result, `own` those of files that hold something else."""

    help: str
    printed: tuple[str, ...] = PLAIN
    own: tuple[str, ...] = ()

    @property
    def declared(self) -> Any:
        """The option as the parser reads it."""
        return Annotated[Path | None, path_option("--out", self.help)]

    def taken(self, options: Options) -> Options:
        """Return the options, an `--out` that is no form of what is printed set apart.

        Raises
        ------
        UsageError
            If the ending says that something else than a result is in the file, or there is nothing to draw with.
        """
        path = options.out
        if path is None:
            return options
        known = sorted({ending for ending in (*self.printed, *self.own) if ending})
        ending = path.suffix.lower()
        if ending and ending not in known:
            listed = f"{', '.join(known[:-1])} or {known[-1]}"
            raise UsageError(f"--out {path}: nothing is written as {path.suffix}; end it in {listed}.")
        if ending in PICTURES:
            need_library()
        return options._replace(out=None, own=path) if ending in self.own else options


RESULT = Out("Write the result to a file as well; .json or .csv chooses its form.")
PICTURE = Out(f"Write to a file as well: .json, .csv, or a picture ({', '.join(PICTURES)}).", own=PICTURES)
SHEET = Out(
    "Write to a file as well: .json, .csv, or a sheet that prints (.html) or adds up (.xlsx).", own=(".html", ".xlsx")
)
PAGE = Out("The page (.html) or the workbook (.xlsx) to write.", printed=(), own=(".html", ".xlsx"))
LINES = Out(
    "Append each result as a line of JSON; results there already are taken over.",
    printed=(),
    own=("", ".jsonl", ".ndjson"),
)


def options(
    output: OutputForm = None,
    out: Annotated[Path | None, RESULT.declared] = None,
    quiet: Quiet = False,
    log: Log = None,
    note: Note = None,
) -> Options:
    """Return what every command takes from the words given.

    Raises
    ------
    UsageError
        If `output` is none of table, json, csv, or a note has no log to be kept in.
    """
    if note is not None and log is None:
        raise UsageError("--note is kept in the log: it needs --log FILE.")
    if output is not None and output not in get_args(Output):
        raise UsageError(f'--output takes table, json or csv, not "{output}".')
    return Options(cast("Output | None", output), out, quiet, log, note=note or "")


def limits(seconds: Seconds = None, gap: Gap = None) -> Limits:
    """Return when a search ends, from the words given.

    Raises
    ------
    UsageError
        If they are none.
    """
    return Limits(numbers.seconds_of(seconds), numbers.gap_of(gap))
