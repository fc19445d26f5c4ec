"""What goes to stdout and stderr, and what becomes of it when nobody can take it."""

from __future__ import annotations

import os
import sys
from io import TextIOWrapper
from typing import TextIO

from reaccord.findings import ReaccordError

NARROWEST = 20
NO_TERMINAL = 120
"""Columns of a table in a file or a pipe."""


class StdoutLost(ReaccordError):
    """The result could not be printed."""

    code = "stdout-lost"


def tell(text: str) -> None:
    """Print on stdout; a reader who has gone away (`| head`) is no fault.

    Raises
    ------
    StdoutLost
        If stdout is closed or cannot be written.
    """
    if sys.stdout is None:
        raise StdoutLost("cannot write to stdout: it is closed.")
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except BrokenPipeError:
        drop(sys.stdout)
    except OSError as fault:
        drop(sys.stdout)
        raise StdoutLost(f"cannot write to stdout: {fault.strerror or fault}.") from None


def say(text: str) -> None:
    """Print a line on stderr; where that cannot be done nobody can be told."""
    if sys.stderr is None:
        return
    try:
        sys.stderr.write(text + "\n")
        sys.stderr.flush()
    except OSError:
        drop(sys.stderr)


def say_wrapped(text: str) -> None:
    """Print a sentence on stderr, in a terminal between words; in a file or a pipe it stays one line."""
    if on_terminal(sys.stderr):
        from reaccord.report.layout import paragraphs

        text = paragraphs(text.split("\n"), _columns(sys.stderr), "  ")
    say(text)


def drop(stream: TextIO | None) -> None:
    """Send what a stream still holds to nowhere: Python would try again at its end, and complain."""
    if stream is None:
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, stream.fileno())
    os.close(nowhere)


def any_sign() -> None:
    """Let every sign through: files and pipes are UTF-8, a terminal shows ? for what it cannot show."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            if stream.isatty():
                stream.reconfigure(errors="replace")
            else:
                stream.reconfigure(encoding="utf-8", errors="backslashreplace")  # a path may be no text


def on_terminal(stream: TextIO | None) -> bool:
    """Whether a person sees the stream."""
    return stream is not None and stream.isatty()


def width() -> int:
    """Return how wide a table may be: the terminal, or 120 where there is none."""
    return _columns(sys.stdout) if on_terminal(sys.stdout) else NO_TERMINAL


def _columns(stream: TextIO) -> int:
    """Return the width of the terminal behind a stream, COLUMNS before it."""
    said = os.environ.get("COLUMNS", "")
    try:
        wide = int(said) if said.isdigit() and int(said) else os.get_terminal_size(stream.fileno()).columns
    except (OSError, ValueError):
        wide = 0
    return max(NARROWEST, wide or NO_TERMINAL)
