"""What is made of the bytes of a table, made once for all studies that name the table."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Any

from reaccord.findings import Finding, Findings

MOST = 64
"""Results remembered; of those the ones not asked for longest are forgotten first."""


class Once:
    """Results with the findings they came with, by all they hang on."""

    def __init__(self, most: int = MOST) -> None:
        self._most = most
        self._made: OrderedDict[Hashable, tuple[Any, tuple[Finding, ...]]] = OrderedDict()

    def __call__(self, key: Hashable, make: Callable[[Findings], Any], findings: Findings) -> Any:
        """Return what `make` returns, and note what it finds; where something was found before, it is made anew.

        Findings so far tell which cells are in doubt, so that what is made of the rest hangs on them.
        """
        if any(findings):
            return make(findings)
        if key not in self._made:
            result = make(findings)
            self._made[key] = result, tuple(findings)
        else:
            findings.extend(self._made[key][1])
        self._made.move_to_end(key)
        while len(self._made) > self._most:
            self._made.popitem(last=False)
        return self._made[key][0]
