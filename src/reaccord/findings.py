"""What is wrong with the tables, and every error this package raises.

A finding is one doubt about one place. Findings are gathered and raised together, so that a person
mends a table once and not once per mistake.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator
from typing import ClassVar, Literal, NamedTuple

Severity = Literal["error", "warning"]
_OF_CELLS = {"bad-cell", "out-of-range", "blank", "too-many-cells", "unquoted", "number-name", "which-kind"}
"""Codes of findings that say the same of many cells, each with what stands in it."""
_REPEATED = re.compile(r'^"[^"]*"')
_SHOWN = 6
"""Rows that a finding lists."""


class Place(NamedTuple):
    """Where a finding stands.

    `file` is the name as the study gives it, `row` the line of the file (the header being 1), `column`
    the heading, or the key of the study file (`limits.exclude`).
    """

    file: str = ""
    row: int | None = None
    column: str | None = None

    def at(self, column: str) -> Place:
        """Return the same row in another column."""
        return Place(self.file, self.row, column)

    def __str__(self) -> str:
        if self.row is None:
            return ", ".join(part for part in (self.file, self.column) if part)
        parts = [self.file, f"row {self.row}", f"column {self.column}" if self.column else ""]
        return ", ".join(part for part in parts if part)


class Shared(NamedTuple):
    """What is said once of several places of a table: a sentence without its full stop.

    Of headings a `cure` follows it, blank or not; of cells there is None.
    """

    sentence: str
    places: tuple[Place, ...]
    cure: str | None = None

    def said(self, code: str) -> Finding:
        """Return the finding at the first of the places, with the count of the others or their names."""
        more, columns = len(self.places) - 1, len({place.column for place in self.places})
        if self.cure is not None:
            so_too = ", ".join(f'"{place.column}"' for place in self.places[1:])
        else:
            so_too = f"in {more} more {'row' if columns == 1 else 'cell'}{'s' if more > 1 else ''}"
            so_too += f" of {columns} columns" if columns > 1 else ""
        text = f"{self.sentence} (so too {so_too})" if more else self.sentence
        return Finding("warning", code, f"{text}.{self.cure or ''}", self.places[0], len(self.places), self)


class Finding(NamedTuple):
    """One doubt: what is wrong, where, and what to do about it (both in `message`); `cells` says of how many cells.

    `shared` is what of it is said of each place where there are several.
    """

    severity: Severity
    code: str
    message: str
    place: Place = Place()
    cells: int = 1
    shared: Shared | None = None

    def __str__(self) -> str:
        where = str(self.place)
        return f"{where}: {self.message}" if where else self.message

    def without(self, columns: Collection[str | None]) -> Finding | None:
        """Return the finding as it is where some columns of its table are not read; None where it is of them alone."""
        places = self.shared.places if self.shared else (self.place,)
        kept = tuple(place for place in places if place.column not in columns)
        if self.shared is None or len(kept) == len(places):
            return self if kept else None
        return self.shared._replace(places=kept).said(self.code) if kept else None

    def as_dict(self) -> dict[str, str | int | None]:
        """Return the finding as `interface` JSON: code, message, file, row, column."""
        place = self.place
        return {
            "code": self.code,
            "message": self.message,
            "file": place.file or None,
            "row": place.row,
            "column": place.column,
        }


class Findings:
    """Collects findings while the tables are read; raises all errors at once."""

    def __init__(self) -> None:
        self._found: dict[Finding, None] = {}
        self._in_error: set[Place] = set()

    def __iter__(self) -> Iterator[Finding]:
        return iter(self._found)

    def error(self, code: str, message: str, place: Place | None = None) -> None:
        """Note an error: nothing will be solved."""
        self._add(Finding("error", code, message, place or Place()))

    def warn(self, code: str, message: str, place: Place | None = None) -> None:
        """Note a warning: the answer stands, the person should know."""
        self._add(Finding("warning", code, message, place or Place()))

    def warn_once(self, code: str, doubts: Iterable[tuple[Place, str]]) -> None:
        """Note doubts that many cells of a table share once for each sentence: at the first cell, with a count.

        The sentences come without a full stop.
        """
        self._share(code, doubts)

    def warn_headings(self, code: str, columns: Iterable[tuple[Place, str]], cure: str = "") -> None:
        """Note columns that are taken alike as one finding on the first of their headings, with the others' names.

        The sentences come without a full stop, `cure` follows once.
        """
        self._share(code, columns, cure)

    def _share(self, code: str, doubts: Iterable[tuple[Place, str]], cure: str | None = None) -> None:
        alike: dict[tuple[str, str], list[Place]] = {}
        for place, sentence in doubts:
            alike.setdefault((place.file, sentence), []).append(place)
        for (_, sentence), places in alike.items():
            self._add(Shared(sentence, tuple(places), cure).said(code))

    def extend(self, findings: Iterable[Finding]) -> None:
        """Take over findings made elsewhere."""
        for finding in findings:
            self._add(finding)

    def _add(self, finding: Finding) -> None:
        place = finding.place
        here = (place, Place(place.file, place.row))  # the cell, its whole row
        cell_in_error = place.row is not None and not self._in_error.isdisjoint(here)
        if finding.code in {"blank", "number-name"} and cell_in_error:
            return  # a cell that could not be read is not also blank, one cut at a comma no number
        self._found.setdefault(finding)
        if finding.severity == "error":
            self._in_error.add(place)

    @property
    def errors(self) -> tuple[Finding, ...]:
        """All errors, in the order they were met."""
        return tuple(f for f in self._found if f.severity == "error") if self._in_error else ()  # asked for often

    @property
    def warnings(self) -> tuple[Finding, ...]:
        """All warnings, in the order they were met."""
        return tuple(f for f in self._found if f.severity == "warning")

    def told(self, severity: Severity) -> tuple[Finding, ...]:
        """Return the errors or the warnings as people read them: by row, those of one cause in one column as one.

        Files come in the order in which they were met, what is said of a whole file before its rows.
        """
        found = [finding for finding in self._found if finding.severity == severity]
        files = list(dict.fromkeys(finding.place.file for finding in self._found))
        found.sort(key=lambda finding: (files.index(finding.place.file), finding.place.row or 0))
        alike: dict[tuple[str, ...], list[Finding]] = {}
        for finding in found:
            alike.setdefault(_cause(finding), []).append(finding)
        return tuple(_counted(same) for same in alike.values())

    def raise_errors(self) -> None:
        """Raise `InvalidInput` with everything found if any of it is an error."""
        if self.errors:
            raise InvalidInput(self.told("error"), self.told("warning"))


def _cause(finding: Finding) -> tuple[str, ...]:
    """Return what two findings of one cause in one column have in common: all but the cell that is repeated."""
    place = finding.place
    cell = finding.code in _OF_CELLS and place.row is not None
    said = _REPEATED.sub("", finding.message) if cell else finding.message
    return finding.code, said, place.file, place.column or "", "" if cell else str(place.row)


def _counted(same: list[Finding]) -> Finding:
    """Return the first of findings of one cause, with the rows of the others."""
    if len(same) == 1:
        return same[0]
    rows = [str(finding.place.row) for finding in same[1:]]
    more = f" and {len(rows) - _SHOWN} more" if len(rows) > _SHOWN else ""
    text = f"{same[0].message} So too in row{'s' * (len(rows) > 1)} {', '.join(rows[:_SHOWN])}{more}."
    return same[0]._replace(message=text, cells=sum(finding.cells for finding in same))


class ReaccordError(Exception):
    """Base of every error raised on purpose; `exit_code` and `status` are what the command line gives.

    `study` is the one that was worked on, blank where that is not known.
    """

    exit_code: ClassVar[int] = 1
    status: ClassVar[str] = "failed"
    code: ClassVar[str] = "failed"

    def __init__(self, message: str) -> None:
        super().__init__(message)
        self.errors: tuple[Finding, ...] = (Finding("error", self.code, message),)
        self.warnings: tuple[Finding, ...] = ()
        self.study = ""


class UsageError(ReaccordError):
    """The command was called with words it cannot take."""

    exit_code = 2
    status = "invalid_input"
    code = "usage"


class InvalidInput(ReaccordError):
    """The tables or the study file are wrong; carries every finding."""

    exit_code = 3
    status = "invalid_input"
    code = "invalid-input"

    def __init__(self, errors: tuple[Finding, ...], warnings: tuple[Finding, ...] = ()) -> None:
        super().__init__("\n".join(str(finding) for finding in errors))
        self.errors = errors
        self.warnings = warnings


class NoFormula(ReaccordError):
    """No formula can hold all the limits at once; the message names the limits in conflict."""

    exit_code = 4
    status = "infeasible"
    code = "no-formula"


class NoAnswer(ReaccordError):
    """The time ran out before any formula was found."""

    exit_code = 6
    status = "no_answer"
    code = "no-answer"

    def __init__(
        self, message: str = "No formula was found in the time given; a longer --seconds may find one."
    ) -> None:
        super().__init__(message)


class SolverFault(ReaccordError):
    """A solver gave something that does not stand up to recomputation: a fault of ours."""

    code = "solver-fault"
