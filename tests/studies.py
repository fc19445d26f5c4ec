"""Small studies for tests: each test states only what it is about, all else has a default.

A table is given as its CSV text, settings as a mapping of section to keys:

>>> made = study(target="constituent,G1\\ngeraniol,60\\ncitronellol,40", settings={"batch": {"accord_g": 5}})
>>> told(errors_of(bottles="material,constituent,purity\\nGeraniol,geraniol,"))
[('blank', 'bottles.csv, row 2, column purity: blank; how pure is the geraniol in it?')]

`study` and `errors_of` read from memory with the real readers; `folder` writes the same study to disk.
All figures are invented.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import pytest

from reaccord.domain.stock import Stock
from reaccord.domain.study import Study
from reaccord.domain.target import TargetRow
from reaccord.findings import Finding, Findings, InvalidInput
from reaccord.study.load import study_from_tables
from reaccord.tables.read import read_tables
from reaccord.tables.separated import parse_text
from reaccord.tables.studyfile import parse_study

TARGET = "constituent,G1\ngeraniol,60\ncitronellol,40"
BOTTLES = "material,constituent,purity\nGeraniol,geraniol,100\nCitronellol,citronellol,100"

Settings = Mapping[str, Any]
"""Section to keys; a key that is None is left out. Keys outside a section stand directly."""


def toml_text(settings: Settings) -> str:
    """Write settings as TOML; lists of mappings become arrays of tables."""
    top = [f"{key} = {_value(value)}" for key, value in settings.items() if not isinstance(value, Mapping)]
    lines = [*top]
    for section, keys in settings.items():
        if not isinstance(keys, Mapping):
            continue
        lines.append(f"[{section}]")
        filled = {key: value for key, value in keys.items() if value is not None}
        tables = {key: value for key, value in filled.items() if _is_tables(value)}
        lines += [f"{key} = {_value(value)}" for key, value in filled.items() if key not in tables]
        for key, items in tables.items():
            for item in items:
                lines += [f"[[{section}.{key}]]", *(f"{name} = {_value(value)}" for name, value in item.items())]
    return "\n".join(lines) + "\n"


def _is_tables(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(item, Mapping) for item in value)


def _value(value: Any) -> str:
    if isinstance(value, float):
        return repr(value)
    return json.dumps(value, ensure_ascii=False)


def texts(
    *,
    target: str = TARGET,
    bottles: str = BOTTLES,
    compositions: str | None = None,
    constituents: str | None = None,
    limits: str | None = None,
    settings: Settings | None = None,
) -> dict[str, str]:
    """Return the files of a study by name; a table that is None is neither there nor named."""
    tables = {
        "target.csv": target,
        "bottles.csv": bottles,
        "compositions.csv": compositions,
        "constituents.csv": constituents,
        "limits.csv": limits,
    }
    there = {name: text for name, text in tables.items() if text is not None}
    sections: dict[str, Any] = {
        "date": "2026-11-25",
        "target": {"table": "target.csv"},
        "shelf": {
            "bottles": "bottles.csv",
            **{name.removesuffix(".csv"): name for name in ("compositions.csv", "constituents.csv") if name in there},
        },
        "batch": {"accord_g": 10},
        "limits": {"table": "limits.csv"} if limits is not None else {},
    }
    for section, keys in (settings or {}).items():
        both = isinstance(keys, Mapping) and isinstance(sections.get(section), Mapping)
        sections[section] = {**sections[section], **keys} if both else keys
    return {"study.toml": toml_text(sections), **there}


def study(**tables: Any) -> Study:
    """Return the study (keywords as in `texts`); raises `InvalidInput` where it is wrong."""
    return study_of(texts(**tables))


def study_of(files: Mapping[str, str]) -> Study:
    """Read a study from the texts of its files, by name."""
    findings = Findings()
    settings = parse_study(files["study.toml"], "study.toml", findings)
    if settings is None:
        return study_from_tables(None, findings)

    def source(name: str) -> Any:
        from reaccord.domain.tables import InputFile

        table = parse_text(files[name], name, ",", findings)
        return None if table is None else (table, InputFile(name, ""))

    return study_from_tables(read_tables(settings, source, findings), findings)


def errors_of(**tables: Any) -> tuple[Finding, ...]:
    """Return every error of a study that must be wrong."""
    with pytest.raises(InvalidInput) as caught:
        study(**tables)
    return caught.value.errors


def folder(where: Path, **tables: Any) -> Path:
    """Write the study into a folder and return the path of its study file."""
    for name, text in texts(**tables).items():
        (where / name).write_text(text, encoding="utf-8", newline="")
    return where / "study.toml"


def told(findings: Iterable[Finding]) -> list[tuple[str, str]]:
    """Return findings as `(code, "file, row, column: sentence")`."""
    return [(finding.code, str(finding)) for finding in findings]


def stock(made: Study, material: str, **key: Any) -> Stock:
    """Return the one stock of this material (and strength, carrier, lot), set aside or not."""
    everything = [*made.stocks, *(aside.stock for aside in made.set_aside)]
    found = [
        s
        for s in everything
        if s.key.material == material and all(getattr(s.key, name) == value for name, value in key.items())
    ]
    assert len(found) == 1, [s.label for s in everything]
    return found[0]


def row(made: Study, label: str) -> TargetRow:
    """Return the one row of the target with this label."""
    found = [row for row in made.target.rows if row.label == label]
    assert len(found) == 1, [row.label for row in made.target.rows]
    return found[0]
