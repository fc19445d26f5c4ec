"""How a command is declared: a function with its own options, beside `limits` and `options` for those that many share.

What the parser calls does not run the command: it returns the call, and `running` runs it and prints what it returns.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, NamedTuple

from reaccord.cli import options as opt
from reaccord.cli.result import Result

SHARED: dict[str, Callable[..., Any]] = {"limits": opt.limits, "options": opt.options}
"""A parameter of this name stands for the options of the function that reads them."""


BESIDE = ("formula", "poured", "key", "answers", "catalogue", "declaration")
"""Arguments that are tables which `check` does not read."""


class Call(NamedTuple):
    """A command with the words given for it: for its own parameters, and for each parameter that stands for several."""

    command: str
    work: Callable[..., Result]
    out: opt.Out
    own: Mapping[str, Any]
    shared: Mapping[str, Mapping[str, Any]]

    @property
    def subject(self) -> str:
        """What it works on, for the log."""
        first = next(iter(self.own.values()))
        if isinstance(first, Path | str):
            return str(first)
        return str(first[0]) if len(first) == 1 else f"{len(first)} studies"

    @property
    def formulas(self) -> frozenset[str]:
        """The files beside the study's own, without their folders: formulas, what was poured, key and answers."""
        given = (*(self.own.get("formulas") or ()), *(self.own.get(name) for name in BESIDE))
        return frozenset(path.name for path in given if path is not None)

    def options(self) -> opt.Options:
        """Read the options that every command takes; raise `UsageError` if they cannot be."""
        return self.out.taken(opt.options(**self.shared["options"]))

    def run(self, options: opt.Options) -> Result:
        """Do the work."""
        limits = {"limits": opt.limits(**self.shared["limits"])} if "limits" in self.shared else {}
        return self.work(**self.own, **limits, options=options)


def command(out: opt.Out = opt.RESULT) -> Callable[[Callable[..., Result]], Callable[..., Call]]:
    """Make a command of a function; `out` is what its `--out` takes. Its annotations are read at start-up: no numpy."""

    def declare(work: Callable[..., Result]) -> Callable[..., Call]:
        own = inspect.signature(work, eval_str=True).parameters
        shared = {name: inspect.signature(SHARED[name], eval_str=True).parameters for name in SHARED if name in own}
        declared = {name: p for each in (own, *shared.values()) for name, p in each.items() if name not in SHARED}
        declared["out"] = declared["out"].replace(annotation=out.declared)

        def call(**words: Any) -> Call:
            mine = {name: word for name, word in words.items() if name in own}
            theirs = {each: {name: words[name] for name in names if name in words} for each, names in shared.items()}
            return Call(work.__name__.replace("_", "-"), work, out, mine, theirs)

        call.__name__, call.__doc__ = work.__name__, work.__doc__
        call.__annotations__ = {name: p.annotation for name, p in declared.items()}
        call.__signature__ = inspect.Signature(  # type: ignore[attr-defined]  # what the parser reads
            [p.replace(kind=inspect.Parameter.KEYWORD_ONLY) for p in declared.values()]
        )
        return call

    return declare
