"""Versions of the solver libraries, looked up once: their files are read for it."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache


@cache
def version(library: str) -> str:
    """Return the version of an installed library."""
    from importlib import metadata  # takes as long to load as a small search

    return metadata.version(library)


def versions(libraries: Sequence[str]) -> str:
    """Return the version of the library that solved, or each with its name where several did."""
    if len(libraries) == 1:
        return version(libraries[0])
    return ", ".join(f"{library} {version(library)}" for library in libraries)
