"""The stored answers of the examples. Rewrite them: `python -m tests.docs.expected`."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from tests.cli.process import reaccord
from tests.docs.papers import ROOT

STORED = {
    "citrus/study.toml": "citrus/expected.json",
    "flower/absolute.toml": "flower/expected_absolute.json",
    "flower/study.toml": "flower/expected.json",
    "geranium/candle.toml": "geranium/expected_candle.json",
    "geranium/study.toml": "geranium/expected.json",
}
"""Study file and the file beside it that holds `fit`'s data."""

SAME = {"citrus/workbook.toml": "citrus/study.toml"}
"""Study files that hold what another one holds, in another form: their answer is the very same."""


def fitted(study: str) -> dict[str, Any]:
    """Return `fit`'s data without what differs between machines and versions: the solver, hashes of the files."""
    ended = reaccord("fit", ROOT / "examples" / study, "--output", "json")
    assert ended.code == 0, ended.err
    data: dict[str, Any] = ended.json["data"]
    del data["solver"]
    data["inputs"] = [item["file"] for item in data["inputs"]]
    return data


def stored(study: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(_path(study).read_text(encoding="utf-8"))
    return found


def _path(study: str) -> Path:
    return ROOT / "examples" / STORED[study]


if __name__ == "__main__":
    for name in STORED:
        _path(name).write_text(json.dumps(fitted(name), ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
