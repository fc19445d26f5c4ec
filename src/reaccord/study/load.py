"""A study from its files or from data frames: everything read, every finding raised at once."""

from __future__ import annotations

import datetime
import hashlib
import os
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

from reaccord.domain import study as domain
from reaccord.domain.tables import InputFile, Tables
from reaccord.findings import Findings, Place, UsageError
from reaccord.names.key import did_you_mean
from reaccord.study import rules, target_entries
from reaccord.study.composition import Opener
from reaccord.study.materials import Reconciled
from reaccord.study.prices import for_want_of
from reaccord.study.reconcile import reconcile
from reaccord.study.shelf import Shelf, stock_shelf
from reaccord.study.target_rows import build_target
from reaccord.tables.doubts import HEADINGS, Doubts, doubtful_cell
from reaccord.tables.heading_row import table_of_rows
from reaccord.tables.raw import RawTable, clean
from reaccord.tables.read import read_study, read_tables
from reaccord.tables.studyfile import parse_study

if TYPE_CHECKING:
    import pandas as pd


class Study(domain.Study):
    """A study, read and reconciled (see `reaccord.domain.study.Study` for its parts)."""

    @classmethod
    def from_tables(cls, tables: Tables | None, findings: Findings) -> Self:
        """Reconcile what was read.

        Raises
        ------
        InvalidInput
            With every error found; warnings come along.
        """
        if tables is None:
            findings.raise_errors()
            raise AssertionError("tables are missing without a finding")
        settled = reconcile(tables, findings)
        opener = Opener(settled, findings)
        found, samples = target_entries.entries(settled, opener, findings)
        odorants = frozenset(name for entry in found for name in entry.own)
        apart = frozenset(name for entry in found for name in entry.members)
        shelf = stock_shelf(settled, opener, (odorants, apart), findings)
        _mentioned(settled, shelf, findings)
        target = build_target(found, samples, settled, shelf.stocks, shelf.carriers, findings)
        found_rules = rules.rules(settled, shelf.stocks, findings)
        amounts = rules.named_amounts(settled, shelf.stocks, findings)
        _prices(settled, shelf, findings)
        settled.names.say_taken(findings)
        settled.names.say_unknown(findings)
        findings.raise_errors()
        return cls(
            settings=tables.settings,
            target=target,
            stocks=shelf.stocks,
            rules=found_rules,
            amounts=amounts,
            carriers=shelf.carriers,
            constituents=dict(settled.names.known()),  # a study can be sent to another process
            tables=tables,
            set_aside=shelf.set_aside,
            inputs=tables.inputs,
            warnings=findings.told("warning"),
            lacking=shelf.lacking,
            unknown=settled.names.unknown(),
            asked=settled.names.asked(),
        )

    @classmethod
    def from_frames(cls, settings: str, frames: Mapping[str, pd.DataFrame]) -> Self:
        """Make a study from the text of a study file and data frames for the tables it names.

        Parameters
        ----------
        settings
            The study file (TOML) as text.
        frames
            A frame for each table name in it (`"target.csv"`); columns as in the files, cells as text or
            numbers (percent by mass), missing values are blanks.

        Raises
        ------
        InvalidInput
            With every error found; a row is counted as if the frame stood in a file (headings: row 1).
        """
        findings = Findings()
        parsed = parse_study(settings, "study", findings)
        tables = None
        if parsed is not None:
            tables = read_tables(parsed, lambda name: _frame(name, frames, findings), findings)
        return cls.from_tables(tables, findings)


def load_study(path: str | Path) -> Study:
    """Read a study file and all its tables; a folder stands for the one study file in it.

    Raises
    ------
    InvalidInput
        With every error found in the study file and the tables.
    UsageError
        If the folder holds several study files.
    """
    findings = Findings()
    return Study.from_tables(read_study(study_file(Path(path)), findings), findings)


def study_file(path: Path) -> Path:
    """Return the one study file (TOML) in a folder; any other path, or a folder without one, as it is.

    Raises
    ------
    UsageError
        If there are several: which is meant cannot be known.
    """
    if not os.path.isdir(path):  # a path that no file can have is none
        return path
    found = sorted(file for file in path.glob("*.toml") if not file.name.startswith(".") and file.is_file())
    if len(found) > 1:
        names = ", ".join(file.name for file in found)
        raise UsageError(f"{path} holds {len(found)} study files: {names}. Which one? Name it, as {found[-1]}.")
    return found[0] if found else path


def _frame(name: str, frames: Mapping[str, pd.DataFrame], findings: Findings) -> tuple[RawTable, InputFile] | None:
    if name not in frames:
        findings.error("file-missing", "there is no frame of that name.", Place(name))
        return None
    frame = frames[name]
    lines = [(1, [clean(str(column)) for column in frame.columns])]
    for line, cells in enumerate(frame.itertuples(index=False, name=None), start=2):
        texts = [_text(cell) for cell in cells]
        if any(texts):
            lines.append((line, texts))
    table = table_of_rows(lines, name, findings)
    digest = hashlib.sha256(repr(lines).encode(errors="backslashreplace")).hexdigest()
    return None if table is None else (table, InputFile(name, digest))


def _text(cell: Any) -> str:
    """Return a cell of a frame as a file would hold it; a missing value is a blank."""
    if cell is None or str(cell) in {"nan", "NaT", "<NA>"}:
        return ""
    if isinstance(cell, bool) or type(cell).__name__ == "bool":
        return "yes" if cell else "no"
    if isinstance(cell, datetime.datetime) and cell.time() == datetime.time():
        return cell.date().isoformat()
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < 1e15:
        return str(int(cell))
    return clean(str(cell))


def _inside(materials: Mapping[str, object], settled: Reconciled) -> set[str]:
    """Return the materials and all materials inside them."""
    inside: set[str] = set()
    waiting = list(materials)
    while waiting:
        name = waiting.pop()
        if name not in inside:
            inside.add(name)
            waiting += [part.name for part in settled.parts.get(name, []) if part.kind == "material"]
    return inside


def _mentioned(settled: Reconciled, shelf: Shelf, findings: Findings) -> None:
    """Warn of a composition that no bottle, blend or target row uses: often a misspelt name."""
    bottled = {key.material for key in shelf.bottles}
    used = _inside(dict.fromkeys(bottled), settled)
    wanted = [settled.materials.find(line.name) for line in settled.tables.target]
    used |= _inside(dict.fromkeys(name for name in wanted if name is not None), settled)
    used |= _inside(dict.fromkeys(settled.carrier_materials), settled)
    warned = set()
    for line in settled.tables.compositions:
        material = settled.materials.find(line.material) or line.material
        if material not in used and material not in warned:
            warned.add(material)
            hint = settled.materials.nearest(material, bottled)
            findings.warn(
                "unused-composition",
                f'no bottle holds "{material}".' + did_you_mean(hint),
                line.at.at("material"),
            )


def _prices(settled: Reconciled, shelf: Shelf, findings: Findings) -> None:
    """A blank price is an error where cost is limited; a column of blanks is one error."""
    settings = settled.tables.settings
    if settings.limits.cost_per_kg is None:
        return
    column = "price_per_kg"
    if all(line.price_per_kg is None for line in shelf.bottles.values()):
        unread = any(doubtful_cell(findings, line.at.at(column)) for line in shelf.bottles.values())
        if not unread and not Doubts(findings).table(settings.shelf.bottles):
            text = "cost is limited, but no bottle has a price: what do they cost per kg?"
            findings.error("blank", text, Place(settings.shelf.bottles, HEADINGS, column))
        return
    for stock in shelf.stocks:
        key = stock.key
        if stock.price_per_g is not None or stock.recipe is not None:  # a dilution's bottles speak for it
            continue
        place = shelf.bottles[key].at.at(column)
        if doubtful_cell(findings, place):
            continue
        text = f"blank, but cost is limited: what does {key.material} cost per kg?"
        findings.error("blank", text + for_want_of(shelf.lacking.get(key, "")), place)
