"""Output files: whole or not at all, and never over an input."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterable
from pathlib import Path

from reaccord.findings import UsageError


def refuse_inputs(path: Path, inputs: Iterable[Path]) -> None:
    """Raise `UsageError` if `path` is a folder or one of the files that are read."""
    try:
        folder = path.is_dir()
        same = any(source.exists() and path.exists() and path.samefile(source) for source in inputs)
    except (OSError, ValueError) as fault:
        raise UsageError(f"cannot write {path}: {getattr(fault, 'strerror', None) or fault}.") from None
    if folder:
        raise UsageError(f"{path} is a folder; an output needs a file name.")
    if same:
        raise UsageError(f"{path} is an input of this study; write somewhere else.")


def write_whole(path: Path, content: str | bytes) -> None:
    """Write a file so that it is there whole or not at all.

    Raises
    ------
    UsageError
        If the place cannot be written.
    """
    data = content if isinstance(content, bytes) else content.encode("utf-8")
    try:
        if path.exists() and not path.is_file():  # a pipe or a device is written to, not replaced by a file
            path.write_bytes(data)
            return
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        temporary = Path(name)
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(data)
                stream.flush()
                os.fsync(stream.fileno())
            mask = os.umask(0)
            os.umask(mask)
            temporary.chmod(0o666 & ~mask)
            temporary.replace(path)
        except BaseException:
            temporary.unlink(missing_ok=True)
            raise
    except OSError as fault:
        raise UsageError(f"cannot write {path}: {fault.strerror or fault}.") from None


def append_line(path: Path, line: str) -> None:
    """Append one line to a log.

    Raises
    ------
    UsageError
        If the place cannot be written.
    """
    try:
        with path.open("a", encoding="utf-8", newline="") as stream:
            stream.write(line + "\n")
    except OSError as fault:
        raise UsageError(f"cannot write {path}: {fault.strerror or fault}.") from None
