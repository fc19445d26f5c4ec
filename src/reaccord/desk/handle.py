"""A handle of the desk: its words, what stands there now, and the study with it elsewhere."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from reaccord.domain.study import Study
from reaccord.findings import InvalidInput
from reaccord.report.quantities import exact_percent
from reaccord.tables.cells import BadCell

Group = Literal["limits", "batch", "rules", "bottles", "rows", "closeness", "samples"]
Shape = Literal["number", "share", "whole", "choice", "switch"]
ON, OFF = "in", "out"
"""What a switch says."""

BARE = re.compile(r"\d*[.,]?\d+")
"""A number and nothing else."""


@dataclass(frozen=True)
class Handle:
    """One thing that can be moved.

    `now` is what stands in a study, as a person would type it (blank: no limit); `put` gives the study with what was
    read elsewhere; `cannot` says why it cannot be moved.
    """

    name: str
    group: Group
    label: str
    shape: Shape
    read: Callable[[str], object]
    now: Callable[[Study], str]
    put: Callable[[Study, object], Study]
    unit: str = ""
    choices: tuple[str, ...] = ()
    cannot: str = ""

    def moved(self, study: Study, text: str) -> Study:
        """Return the study with this handle at what was typed.

        Raises
        ------
        BadCell
            If it cannot be read, or no study can be made of it; the message says why.
        """
        if self.shape == "share" and BARE.fullmatch(text.strip()):
            text += " %"  # the field it was typed over shows percent
        try:
            return self.put(study, self.read(text))
        except InvalidInput as fault:
            raise BadCell(" ".join(finding.message for finding in fault.errors)) from None


def name_of(kind: str, *about: str) -> str:
    """Return the name of a handle."""
    return json.dumps([kind, *about], ensure_ascii=False)


def text_of(value: object) -> str:
    """Write a number as it is typed."""
    return "" if value is None else f"{value:.12g}" if isinstance(value, float) else str(value)


def percent_of(value: object) -> str:
    """Write a share as it is typed."""
    return exact_percent(value) if isinstance(value, float | int) else ""
