"""What holds for every test."""

from __future__ import annotations

import os

for _library in ("OPENBLAS", "OMP", "MKL"):
    # as the command line does before numpy is imported: the arrays are small, and the tests run side by side
    os.environ.setdefault(f"{_library}_NUM_THREADS", "1")
