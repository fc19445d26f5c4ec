"""What holds for every test."""

from __future__ import annotations

import os
import signal

from hypothesis import HealthCheck, settings

for _library in ("OPENBLAS", "OMP", "MKL"):
    # as the command line does before numpy is imported: the arrays are small, and the tests run side by side
    os.environ.setdefault(f"{_library}_NUM_THREADS", "1")

if signal.getsignal(signal.SIGINT) == signal.SIG_IGN:
    # a shell starts what goes on in the background so, and every process the tests start would take it over
    signal.signal(signal.SIGINT, signal.default_int_handler)

for _name, _examples in {"suite": 40, "quick": 300, "sweep": 30_000}.items():
    settings.register_profile(
        _name, max_examples=_examples, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
    )
settings.load_profile("suite")  # another: --hypothesis-profile
