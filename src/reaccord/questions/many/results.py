"""The file of results: lines of JSON that are only ever appended, and taken up again where a run ended."""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Iterator
from pathlib import Path
from types import TracebackType
from typing import Any, BinaryIO, Self

from reaccord import SCHEMA
from reaccord.findings import UsageError
from reaccord.questions.many.parcel import Parcel
from reaccord.questions.many.solved import Asked, Line

BEGINNING = f'{{"schema": {SCHEMA}, "study": '.encode()
"""How every line begins: what begins otherwise is not ours, and not ours to cut."""
NEEDED = {"schema", "study", "sample", "status", "exit_code", "date", "inputs", "settings", "errors", "formula"}
NUMBERS = {"value", "bound", "gap", "cost_per_kg"}
"""Numbers, or null where there is none."""
ANSWERED = {"proven", "infeasible", "invalid_input"}
"""What a longer search cannot change."""


class Results:
    """A results file, open to append; use it as a context.

    Opening reads the lines that are there and notes where each study's last one stands; a half-written last
    line (a run was killed, the disk was full) is cut off. Lines are written whole and at once.

    Raises
    ------
    UsageError
        If the file cannot be written, holds something else, or another run is writing to it.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._at: dict[tuple[str, str | None], int] = {}
        try:
            if path.exists() and not path.is_file():
                raise UsageError(f"{path} is no plain file; results are read again when a run is taken up.")
            self._stream: BinaryIO = path.open("a+b", buffering=0)
        except OSError as fault:
            raise UsageError(f"cannot write {path}: {fault.strerror or fault}.") from None
        try:
            _lock(self._stream, path)
            self._read()
        except BaseException:
            self._stream.close()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._stream.close()

    def finished(self, parcel: Parcel, asked: Asked) -> str | None:
        """Return the line of a study as JSON if it still stands: same files, same day, same settings.

        A fault is tried again. What is proven at least as well, or cannot be solved at all, stands whatever
        time is given.
        """
        at = self._at.get(parcel.identity)
        if at is None:
            return None
        self._stream.seek(at)
        text = next(_lines(self._stream)).decode("utf-8", "surrogatepass").rstrip("\n")
        line: Line = json.loads(text)
        day = parcel.date.isoformat() if parcel.date else None
        if (line["inputs"], line["date"]) != (parcel.inputs, day) or line["status"] == "failed":
            return None
        enough = line["status"] in ANSWERED and line["settings"]["gap"] <= asked.gap
        return text if enough or line["settings"] == asked.data else None

    def append(self, lines: Iterable[str]) -> None:
        """Write lines of JSON, at once.

        Raises
        ------
        UsageError
            If it cannot be written.
        """
        # a name that is no proper text (bytes of a path) is written as the escape it is in JSON
        text = "".join(f"{line}\n" for line in lines).encode("utf-8", "backslashreplace")
        try:
            while text:
                text = text[self._stream.write(text) :]
        except OSError as fault:
            raise UsageError(f"cannot write {self.path}: {fault.strerror or fault}.") from None

    def _read(self) -> None:
        self._stream.seek(0)
        place = 0
        for number, text in enumerate(_lines(self._stream), start=1):
            line = _ours(text)
            if not text.strip():
                place += len(text)
                continue
            if line is None and not text.endswith(b"\n") and _begins_as_ours(text):
                self._stream.truncate(place)
                return
            if line is None:
                raise UsageError(
                    f"{self.path}, row {number}: not a result of `reaccord many`. "
                    "Name another file, or delete that row if it was damaged."
                )
            self._at[os.path.normpath(line["study"]), line["sample"]] = place
            place += len(text)
            if not text.endswith(b"\n"):  # whole, but for its end
                self._stream.write(b"\n")


def _lines(stream: BinaryIO) -> Iterator[bytes]:
    """Yield the lines from where the stream stands; it is not buffered, so that what is written is written."""
    kept = b""
    while block := stream.read(1 << 16):
        *whole, kept = (kept + block).split(b"\n")
        for line in whole:
            yield line + b"\n"
    if kept:
        yield kept


def _ours(text: bytes) -> Line | None:
    """Return a line as data if it is a result, else None."""
    try:
        line: Any = json.loads(text)
    except ValueError:
        return None
    if not isinstance(line, dict) or line.get("schema") != SCHEMA or not line.keys() >= NEEDED:
        return None
    return line if _typed(line) else None


def _typed(line: Line) -> bool:
    """Whether what is read of a line again is of the kind it was written as."""
    settings = line["settings"]
    return (
        isinstance(line["study"], str)
        and isinstance(line["exit_code"], int)
        and isinstance(line["status"], str)
        and isinstance(line["errors"], list)
        and isinstance(line["formula"], list | None)
        and isinstance(settings, dict)
        and isinstance(settings.get("gap"), int | float)
        and all(name in line and isinstance(line[name], int | float | None) for name in NUMBERS)
    )


def _begins_as_ours(text: bytes) -> bool:
    return text.startswith(BEGINNING) or BEGINNING.startswith(text)


def _lock(stream: BinaryIO, path: Path) -> None:
    """Keep other runs off the file; where there are no such locks, nothing is kept off."""
    try:
        import fcntl
    except ModuleNotFoundError:  # Windows
        return
    try:
        fcntl.flock(stream, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        raise UsageError(f"another run is writing to {path}; wait for it or name another file.") from None
    except OSError:  # a file system without locks
        return
