"""Files that several studies name, read once while they stay as they are."""

from __future__ import annotations

import os
import time
from collections import OrderedDict
from pathlib import Path

from reaccord.domain.tables import InputFile
from reaccord.findings import Findings
from reaccord.tables.raw import LARGEST_FILE, read_bytes

AT_REST = 2_000_000_000
"""Nanoseconds. File systems tell when a file was changed to two seconds or better (FAT: two, others far less)."""
MOST = 16
"""Files remembered, of all together no more bytes than the largest file may have."""


class KeptFiles:
    """Reads files, and gives what it has read of the last few again while nothing tells that they have changed.

    Looked at each time are the device, the inode, the size, and the times at which content and entry were last changed.
    A file changed less than `AT_REST` before it was read is not remembered: another change could show the same time.
    """

    def __init__(self) -> None:
        self._kept: OrderedDict[tuple[str, str], tuple[tuple[int, ...], tuple[bytes, InputFile]]] = OrderedDict()

    def read(self, folder: str, file: str, findings: Findings) -> tuple[bytes, InputFile] | None:
        """Return what `read_bytes` gives of a file named from a folder; of one that stayed the very same objects."""
        stamp, before = _stamp(os.path.join(folder, file)), self._kept.get((folder, file))
        if before is not None and before[0] == stamp:
            self._kept.move_to_end((folder, file))
            return before[1]
        begun = time.time_ns()
        found = read_bytes(Path(folder, file), file, findings)
        if found is not None and stamp and max(stamp[-2:]) < begun - AT_REST:
            self._kept[folder, file] = stamp, found
            while len(self._kept) > MOST or sum(len(content) for _, (content, _) in self._kept.values()) > LARGEST_FILE:
                self._kept.popitem(last=False)
        return found


def _stamp(path: str) -> tuple[int, ...]:
    """Return what tells whether a file has changed, empty if it cannot be looked at."""
    try:
        said = os.stat(path)
    except (OSError, ValueError):
        return ()
    return said.st_dev, said.st_ino, said.st_size, said.st_mtime_ns, said.st_ctime_ns
