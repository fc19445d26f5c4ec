from __future__ import annotations

from importlib.resources import files

from reaccord.names.registry_readings import FILE, written


def test_the_file_is_of_this_registry_and_of_these_readings() -> None:
    kept = files("reaccord.names").joinpath(FILE).read_text(encoding="utf-8")
    assert kept == written(), "python -m reaccord.names.registry_readings writes it anew"
