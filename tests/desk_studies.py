"""A small study on disk with everything that a desk can move; and its search without a process of its own."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.studies import folder

from reaccord.desk.answering import Answering, Job, Message
from reaccord.domain.study import Study

TARGET = "constituent,G1,G2\nred,60,58\ngreen,30,31\nblue,10,11"
BOTTLES = (
    "material,constituent,purity,price_per_kg,stock_g,lot\n"
    "Red,red,100,10,,a\nRed,red,100,8,3,b\nGreen,green,95,50,,\nBlue,blue,90,200,,\nGone,blue,90,20,0,\n"
    "dipropylene glycol,dipropylene glycol,100,4,,"
)
LIMITS = (
    "rule,members,product,max,kind,authority\n"
    "Blue,blue,soap,0.5,each,house (invented)\n"
    "Two,red;green,soap,5,each,house (invented)\n"
    "Both,green;blue,soap,1,sum,house (invented)\n"
    "Share,red,soap,3,ratio,house (invented)\n"
    "Share,green,soap,4,ratio,house (invented)\n"
    "Never,safrole,any,,prohibited,house (invented)\n"
    "Blue,blue,candle,2,each,house (invented)\n"
)
SETTINGS: dict[str, Any] = {
    "title": "Three colours",
    "date": "2026-01-01",
    "target": {"table": "target.csv", "samples": ["G1"]},
    "shelf": {"bottles": "bottles.csv", "compositions": None},
    "batch": {"accord_g": 10, "carrier_max_g": 5},
    "balance": {"readability_g": 0.01},
    "dilutions": {"strengths": ["10 %"], "carrier": "dipropylene glycol"},
    "limits": {
        "cost_per_kg": 60,
        "table": "limits.csv",
        "product": "soap",
        "dosage": "2 %",
        "amount": [{"material": "Green", "at_least_g": 0.5}],
    },
}


def colours(path: Path) -> Path:
    """Write the study; return its file."""
    path.mkdir(parents=True, exist_ok=True)
    return folder(path, target=TARGET, bottles=BOTTLES, limits=LIMITS, settings=SETTINGS)


class Here:
    """Answers as a `Worker` does, in a thread of this process, and stops after the proof."""

    pid = None

    def __init__(self, study: Study, heard: Callable[[Message], None]) -> None:
        self._answering = Answering(study, heard, lambda seconds: seconds > 0)
        self._lock = threading.Lock()

    def ask(self, job: Job) -> None:
        def answer() -> None:
            with self._lock:
                self._answering.answer(job)

        threading.Thread(target=answer, daemon=True).start()

    def end(self) -> None:
        """There is no process to end."""
