"""Output files: whole or not at all, and never over an input."""

from __future__ import annotations

import contextlib
import os
import re
import stat
import tempfile
from collections.abc import Iterable
from pathlib import Path

from reaccord.findings import UsageError

_OPENED = re.compile(r"/dev/(fd/\d+|std(in|out|err))|/proc/(self|\d+)/fd/\d+")
"""What is open already: also what a shell makes of `>(command)`."""
NAME_KEPT = 50
"""Characters of a file's name in that of its temporary file."""


def refuse_inputs(path: Path, inputs: Iterable[Path]) -> None:
    """Raise `UsageError` if `path` is a folder or one of the files that are read."""
    try:
        folder = path.is_dir()
        same = any(same_file(path, source) for source in inputs)
    except (OSError, ValueError) as fault:
        raise _refused(path, fault) from None
    if folder:
        raise UsageError(f"{path} is a folder; an output needs a file name.")
    if same:
        raise UsageError(f"{path} is an input of this study; write somewhere else.")


def same_file(one: Path | None, other: Path | None) -> bool:
    """Whether both name one file, which need not be there."""
    if one is None or other is None:
        return False
    if one.exists() and other.exists():
        return one.samefile(other) and not _is_stream(one)
    return one.resolve() == other.resolve()


def need_place(path: Path, *, append: bool = False) -> None:
    """Raise `UsageError` if no file can be written there: before a long search, not after it."""
    if path.name == "-":
        raise UsageError('"-" is no file name; without --out the result goes to stdout.')
    try:
        target = path.resolve()
        there, stream = target.exists() or path.exists(), _is_stream(path)
    except (OSError, RuntimeError) as fault:
        raise _refused(path, fault) from None
    if there and not stream and not path.is_file():
        raise UsageError(f"cannot write {path}: it is not a regular file.")
    if not stream and not target.parent.is_dir():
        raise UsageError(f"cannot write {path}: there is no folder {path.parent}.")
    if there and not os.access(path, os.W_OK):
        raise UsageError(f"cannot write {path}: permission denied.")
    replaced = not stream and not (append and there)  # by a new file: its folder is written to as well
    if replaced and not os.access(target.parent, os.W_OK):
        raise UsageError(f"cannot write {path}: the folder {path.parent} may not be written to.")


def write_whole(path: Path, content: str | bytes) -> None:
    """Write a file so that it is there whole or not at all; a device or an open pipe is written to as it is.

    Raises
    ------
    UsageError
        If the place cannot be written.
    """
    data = content if isinstance(content, bytes) else _encoded(content)
    try:
        if _is_stream(path):
            _write_to(path, data)
        else:
            _replace(path.resolve(), data)  # behind a link the file is replaced, not the link
    except (OSError, RuntimeError) as fault:
        raise _refused(path, fault) from None


def new_folder(folder: Path) -> None:
    """Make a folder, or take one that is empty.

    Raises
    ------
    UsageError
        If something is there already, or it cannot be made.
    """
    try:
        taken = folder.exists() and (not folder.is_dir() or any(folder.iterdir()))
    except (OSError, ValueError) as fault:
        raise UsageError(f"cannot look into {folder}: {getattr(fault, 'strerror', None) or fault}.") from None
    if taken:
        raise UsageError(f"{folder} is there already and not empty; name a new folder.")
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise UsageError(f"cannot make {folder}: {fault.strerror or fault}.") from None


def append_line(path: Path, line: str) -> None:
    """Append one line to a log, on a line of its own even where the last one was cut short.

    Raises
    ------
    UsageError
        If the place cannot be written.
    """
    data = _encoded(line + "\n")
    try:
        if _is_stream(path):
            _write_to(path, data)
            return
        with path.open("a+b") as stream:
            if stream.seek(0, os.SEEK_END):
                stream.seek(-1, os.SEEK_END)
                data = data if stream.read(1) == b"\n" else b"\n" + data
            stream.write(data)
    except OSError as fault:
        raise _refused(path, fault) from None


def _is_stream(path: Path) -> bool:
    """Whether it is a device for characters, or open already: nothing to wait for, nothing to replace.

    Opening any other pipe would wait until somebody reads it.
    """
    try:
        kind = path.stat().st_mode
    except (OSError, ValueError):
        return False
    opened = _OPENED.fullmatch(path.absolute().as_posix()) is not None
    return stat.S_ISCHR(kind) or (opened and not stat.S_ISDIR(kind) and not stat.S_ISBLK(kind))


def _write_to(path: Path, data: bytes) -> None:
    """Write to what is there. Nothing is cut off: `/dev/stdout` may be a file with something in it."""
    descriptor = os.open(path, os.O_WRONLY | os.O_APPEND | getattr(os, "O_NONBLOCK", 0))
    os.set_blocking(descriptor, True)
    with os.fdopen(descriptor, "wb") as stream:
        stream.write(data)


def _replace(path: Path, data: bytes) -> None:
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name[:NAME_KEPT]}.")
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        temporary.chmod(_rights(path))
        temporary.replace(path)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise


def _rights(path: Path) -> int:
    """Return the rights of the file that is there, else those of a new one."""
    with contextlib.suppress(OSError):
        return stat.S_IMODE(path.stat().st_mode)
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def _encoded(text: str) -> bytes:
    return text.encode("utf-8", "backslashreplace")  # a path may hold bytes that are no text


def _refused(path: Path, fault: Exception) -> UsageError:
    return UsageError(f"cannot write {path}: {getattr(fault, 'strerror', None) or fault}.")
