"""A study file and the tables it names, from disk or from data frames, into `Tables`."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from reaccord.domain.lines import DeclarationLine, FormulaLine, Pack
from reaccord.domain.settings import Settings
from reaccord.domain.tables import InputFile, Tables
from reaccord.findings import Findings, Place
from reaccord.tables import lines
from reaccord.tables.composition_table import composition_lines
from reaccord.tables.known_names import known_names
from reaccord.tables.once import Once
from reaccord.tables.raw import RawTable, decode, read_bytes
from reaccord.tables.separated import table_of_bytes
from reaccord.tables.studyfile import parse_study
from reaccord.tables.target_table import target_lines
from reaccord.tables.workbook import book_of, is_sheet, sheet_of_bytes

_OTHER_BOOKS = (".xls", ".xlsb", ".ods", ".numbers")

_PACKED = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")
"""How the file of a workbook begins, new and old."""

_SHELF = ("shelf.bottles", "shelf.compositions", "shelf.constituents")
"""The tables whose rows hang on each other, and on nothing else."""
_ALONE = "limits.table"
"""The one whose rows hang on nothing else."""

Fetch = Callable[[str], tuple[bytes, InputFile] | None]
"""Gives the bytes of the file of that name, or None when a finding says why not."""

Source = Callable[[str], tuple[RawTable, InputFile] | None]
"""Gives the table of that name, or None when a finding says why not."""


def read_study(path: Path, findings: Findings, samples: Sequence[str] = ()) -> Tables | None:
    """Read a study file and its tables; None if so much is missing that nothing else can be checked.

    `samples`, if any are given, stand in place of the study file's own.
    """

    def of_samples(settings: Settings) -> Settings:
        return replace(settings, target=replace(settings.target, samples=tuple(samples)))

    change = of_samples if samples else None
    return study_of_bytes(path.name, lambda name: read_bytes(path.parent / name, name, findings), findings, change)


def study_of_bytes(
    file: str, fetch: Fetch, findings: Findings, change: Callable[[Settings], Settings] | None = None
) -> Tables | None:
    """Read a study whose files come from `fetch`; `change` alters what the study file says."""
    found = fetch(file)
    if found is None:
        return None
    text = decode(found[0], file, findings)
    settings = None if text is None else parse_study(text, file, findings)
    if settings is None:
        return None
    settings = change(settings) if change else settings
    tables = read_tables(settings, lambda name: any_table(name, fetch, findings), findings)
    if tables is None:
        return None
    return Tables(**{**vars(tables), "inputs": (found[1], *tables.inputs)})


def files_named(settings: Settings) -> tuple[str, ...]:
    """Return the files of the tables that a study names, each once."""
    names = [name for name in _tables_named(settings).values() if name]
    return tuple(dict.fromkeys(book_of(name) if is_sheet(name) else name for name in names))


def any_table(
    name: str, fetch: Fetch, findings: Findings, once: Once | None = None, usual: str = ""
) -> tuple[RawTable, InputFile] | None:
    """Read a table by the ending of its name: CSV, TSV, or a sheet of a workbook; it may have no rows.

    `once` remembers the table of the same bytes, `usual` is the sheet of a workbook that names none.
    """
    sheet = is_sheet(name)
    if not sheet and "#" in name and book_of(name).lower().endswith(_OTHER_BOOKS):
        cure = f"save {book_of(name)} as .xlsx and name that here."
        findings.error("workbook", f"of workbooks only .xlsx is read: {cure}", Place(name))
        return None
    found = fetch(book_of(name) if sheet else name)
    if found is None:
        return None
    if not sheet and found[0].startswith(_PACKED):
        cure = "Save it as .xlsx and name the sheet, as book.xlsx#sheet; or save the sheet as CSV."
        findings.error("workbook", f"this is a workbook, not text. {cure}", Place(name))
        return None
    content = found[0]

    def table_of(noted: Findings) -> RawTable | None:
        return sheet_of_bytes(content, name, noted, usual) if sheet else table_of_bytes(content, name, noted)

    table = (once or Once())(("cells", name, found[1]), table_of, findings)
    return None if table is None else (table, found[1])


def read_tables(settings: Settings, source: Source, findings: Findings, once: Once | None = None) -> Tables | None:
    """Read the tables the settings name from `source`; `once` remembers the rows of all but the target."""
    named = _tables_named(settings)
    may_be_empty = {"shelf.compositions", "shelf.constituents"}
    raws: dict[str, RawTable] = {}
    files: dict[str, InputFile] = {}
    for key, name in named.items():
        found = source(name) if name else None
        if found is not None and (key in may_be_empty or not _empty(found[0], findings)):
            raws[key], files[key] = found
    read = _typed(
        settings,
        raws,
        findings,
        lambda key: (key, *map(files.get, (key,) if key == _ALONE else _SHELF)),
        once or Once(),
    )
    _same_file_twice(settings, findings)
    unread = frozenset(name for key, name in named.items() if name and key not in raws)
    if not read["target"] or not read["bottles"] or settings.shelf.constituents in unread:
        return None  # a finding says why; without them no name can be judged
    return Tables(settings, **read, inputs=tuple(dict.fromkeys(files.values())), unread=unread)


def _typed(
    settings: Settings,
    raws: Mapping[str, RawTable],
    findings: Findings,
    made_of: Callable[[str], Hashable],
    once: Once,
) -> dict[str, Any]:
    """Return the lines of each table; what is known from one tells titles from names in the next.

    `made_of` says what the lines of a table hang on; those of the target are read anew.
    """
    said = {key: Findings() for key in _tables_named(settings)}
    for found in said.values():
        found.extend(findings)  # what was said of the files tells which cells are in doubt
    aim = settings.target

    def read(key: str, reader: Callable[[RawTable, Findings], Any]) -> Any:
        if key not in raws:
            return ()
        if key == "target.table":
            return reader(raws[key], said[key])
        return once(made_of(key), lambda noted: reader(raws[key], noted), said[key])

    constituents = read("shelf.constituents", lines.constituent_lines)
    in_bottles = lines.material_names(raws["shelf.bottles"]) if "shelf.bottles" in raws else ()
    known = known_names(constituents, in_bottles)
    compositions = read("shelf.compositions", lambda raw, doubts: composition_lines(raw, doubts, known))
    composed = known_names(constituents, (line.material for line in compositions))
    bottles = read("shelf.bottles", lambda raw, doubts: lines.bottle_lines(raw, doubts, composed))
    known = known_names(constituents, (line.material for line in (*compositions, *bottles)))
    target = read("target.table", lambda raw, doubts: target_lines(raw, doubts, aim.samples, aim.basis, known))
    rows, samples = target or ((), ())
    limits = read(_ALONE, lines.limit_lines)
    for found in said.values():  # in the order of the study file, whatever was read first
        findings.extend(found)
    return {
        "target": rows,
        "samples": samples,
        "bottles": bottles,
        "compositions": compositions,
        "constituents": constituents,
        "limits": limits,
    }


def _empty(raw: RawTable, findings: Findings) -> bool:
    """Whether a table that says something only by its rows has none: an error."""
    if not raw.rows:
        findings.error("empty-table", "there are headings but no rows.", Place(raw.file))
    return not raw.rows


def _tables_named(settings: Settings) -> Mapping[str, str]:
    """Return the name of each table by the key that names it; blank: none."""
    return {
        "target.table": settings.target.table,
        "shelf.bottles": settings.shelf.bottles,
        "shelf.compositions": settings.shelf.compositions,
        "shelf.constituents": settings.shelf.constituents,
        "limits.table": settings.limits.table,
    }


def _same_file_twice(settings: Settings, findings: Findings) -> None:
    seen: dict[str, str] = {}
    for key, file in _tables_named(settings).items():
        if file and file in seen:
            findings.error("same-file", f'"{file}" is already named by {seen[file]}.', Place(settings.file, column=key))
        seen.setdefault(file, key)


def read_formula(path: Path, findings: Findings) -> tuple[tuple[FormulaLine, ...], InputFile] | None:
    """Read a formula."""
    return _lines_of(path, lines.formula_lines, "formula", findings)


def read_poured(path: Path, findings: Findings) -> tuple[tuple[FormulaLine, ...], InputFile] | None:
    """Read what was poured."""
    return _lines_of(path, lines.poured_lines, "weigh", findings)


def _lines_of(
    path: Path, typed: Callable[[RawTable, Findings], tuple[FormulaLine, ...]], usual: str, findings: Findings
) -> tuple[tuple[FormulaLine, ...], InputFile] | None:
    """Read lines; of a workbook without the name of a sheet the `usual` one, as `report` calls it."""
    found = any_table(path.name, lambda name: read_bytes(path.parent / name, name, findings), findings, usual=usual)
    if found is None or _empty(found[0], findings):
        return None
    return typed(found[0], findings), found[1]


def read_catalogue(path: Path, tables: Tables, findings: Findings) -> tuple[tuple[Pack, ...], InputFile] | None:
    """Read what can be bought, beside the tables of a study; None when a finding says why not."""
    found = any_table(path.name, lambda name: read_bytes(path.parent / name, name, findings), findings)
    if found is None or _empty(found[0], findings):
        return None
    materials = [*(line.material for line in tables.compositions), *(line.material for line in tables.bottles)]
    return lines.catalogue_lines(found[0], findings, known_names(tables.constituents, materials)), found[1]


def read_declaration(path: Path, findings: Findings) -> tuple[tuple[DeclarationLine, ...], InputFile] | None:
    """Read what a label must name."""
    found = any_table(path.name, lambda name: read_bytes(path.parent / name, name, findings), findings)
    if found is None or _empty(found[0], findings):
        return None
    return lines.declaration_lines(found[0], findings), found[1]
