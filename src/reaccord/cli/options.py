"""Options that commands share; the help text of each stands here once."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from reaccord.cli.result import Options, Output
from reaccord.findings import UsageError

Study = Annotated[Path, typer.Argument(metavar="STUDY", help="The study file (TOML).", show_default=False)]
Studies = Annotated[
    list[Path], typer.Argument(metavar="STUDY", help="Study files (TOML), one or more.", show_default=False)
]
OutputForm = Annotated[
    str | None, typer.Option("--output", metavar="table|json|csv", help="Form of the result; default table.")
]
Out = Annotated[
    Path | None,
    typer.Option("--out", metavar="FILE", help="Write the result to a file; .json or .csv chooses the form."),
]
Lines = Annotated[
    Path | None,
    typer.Option(
        "--out", metavar="FILE", help="Append each result as a line of JSON; results there already are taken over."
    ),
]
Quiet = Annotated[bool, typer.Option("--quiet", help="No warnings and no progress on stderr.")]
Log = Annotated[Path | None, typer.Option("--log", metavar="FILE", help="Append one line of JSON to a log.")]
Formula = Annotated[
    Path | None,
    typer.Option("--formula", metavar="FILE", help="Take this formula (CSV) as it is and solve nothing again."),
]
Seconds = Annotated[str | None, typer.Option("--seconds", metavar="N", help="Stop the search after N seconds.")]
Gap = Annotated[
    str | None,
    typer.Option("--gap", metavar="X", help="Stop when proven within this: 0.001 or '0.1 %'; default 0.1 %."),
]

PICTURES = (".svg", ".png")
"""Endings of `--out` that ask for a picture, where there is one."""


def options(output: str | None, out: Path | None, quiet: bool, log: Path | None) -> Options:
    """Return the shared options, checked.

    Raises
    ------
    UsageError
        If `output` is none of table, json, csv.
    """
    known: dict[str, Output] = {"table": "table", "json": "json", "csv": "csv"}
    if output is not None and output not in known:
        raise UsageError(f'--output takes table, json or csv, not "{output}".')
    return Options(known[output] if output else None, out, quiet, log)


def gap_of_text(text: str | None) -> float:
    """Read `--gap`: a fraction, or a share with its sign.

    Raises
    ------
    UsageError
        If it is neither, or not from 0 to below 1.
    """
    from reaccord.tables.cells import BadCell, number, share

    if text is None:
        return 1e-3
    plain = text.strip()[-1:].isdigit()
    try:
        value = number(text.strip()) if plain else share(text.strip(), sign_needed=True)
    except BadCell as fault:
        raise UsageError(f'--gap: {fault} Write 0.001 or "0.1 %".') from None
    if not 0 <= value < 1:
        sign = " A percentage needs its sign." if plain and value >= 1 else ""
        raise UsageError(f"--gap must be from 0 to below 1 (100 %), not {text}.{sign}")
    return value


def seconds_of(text: str | None) -> float:
    """Read `--seconds`.

    Raises
    ------
    UsageError
        If it is not a number above zero.
    """
    from reaccord.tables.cells import BadCell, number

    if text is None:
        return float("inf")
    try:
        value = number(text.strip())
    except BadCell as fault:
        raise UsageError(f"--seconds: {fault}") from None
    if value <= 0:
        raise UsageError(f"--seconds must be above 0, not {text}.")
    return value


def within_of(text: str) -> tuple[float | None, float | None]:
    """Read `--within`: a deviation (a plain number), or a share above the closest (with its sign).

    Raises
    ------
    UsageError
        If it is neither, or below 0.
    """
    from reaccord.tables.cells import BadCell, number, share

    plain = text.strip()[-1:].isdigit()
    try:
        value = number(text.strip()) if plain else share(text.strip(), sign_needed=True)
    except BadCell as fault:
        raise UsageError(f'--within: {fault} Write a deviation (0.1), or "5 %" above the closest.') from None
    if value < 0:
        raise UsageError(f"--within must not be below 0, not {text}.")
    return (value, None) if plain else (None, value)
