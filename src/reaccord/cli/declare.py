"""How a command is declared: a function with its own options; those that commands share are added here.

A parameter annotated `Limits` stands for `--seconds` and `--gap`, one annotated `Options` for `--output`, `--out`,
`--quiet` and `--log`. What the parser calls does not run the command: it returns the call, and what runs and prints
it stands in `running`.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from reaccord.cli import options as opt
from reaccord.cli.result import Options, Result


@dataclass(frozen=True)
class Call:
    """A command with the words given for it."""

    command: str
    words: Mapping[str, Any]
    work: Callable[..., Result]
    out: opt.Out

    @property
    def subject(self) -> str:
        """What it works on, for the log."""
        first = next(iter(self.words.values()))
        if isinstance(first, Path | str):
            return str(first)
        return str(first[0]) if len(first) == 1 else f"{len(first)} studies"

    def options(self) -> Options:
        """Read the options that every command takes; raise `UsageError` if they cannot be."""
        return opt.options(self.words, self.out)

    def run(self, options: Options) -> Result:
        """Do the work."""
        given: dict[str, Any] = {}
        for name, parameter in inspect.signature(self.work, eval_str=True).parameters.items():
            if parameter.annotation is Options:
                given[name] = options
            elif parameter.annotation is opt.Limits:
                given[name] = opt.limits(self.words)
            else:
                given[name] = self.words[name]
        return self.work(**given)


def command(out: opt.Out = opt.RESULT) -> Callable[[Callable[..., Result]], Callable[..., Call]]:
    """Make a command of a function; `out` is what its `--out` takes."""

    def declare(work: Callable[..., Result]) -> Callable[..., Call]:
        name = work.__name__.replace("_", "-")

        def declared(**words: Any) -> Call:
            return Call(name, words, work, out)

        parameters = [
            shared for own in inspect.signature(work, eval_str=True).parameters.values() for shared in _shared(own, out)
        ]
        declared.__name__, declared.__doc__ = work.__name__, work.__doc__
        declared.__annotations__ = {parameter.name: parameter.annotation for parameter in parameters}
        declared.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]  # what the parser reads
        return declared

    return declare


def _shared(own: inspect.Parameter, out: opt.Out) -> Iterator[inspect.Parameter]:
    """Yield the options that a parameter stands for, or the parameter."""
    if own.annotation is opt.Limits:
        yield from (_option("seconds", opt.Seconds), _option("gap", opt.Gap))
    elif own.annotation is Options:
        yield from (_option("output", opt.OutputForm), _option("out", out.declared))
        yield from (_option("quiet", opt.Quiet, False), _option("log", opt.Log))
    else:
        yield own.replace(kind=inspect.Parameter.KEYWORD_ONLY)


def _option(name: str, annotation: Any, default: object = None) -> inspect.Parameter:
    return inspect.Parameter(name, inspect.Parameter.KEYWORD_ONLY, default=default, annotation=annotation)
