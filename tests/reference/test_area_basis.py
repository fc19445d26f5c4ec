"""An area-percent analysis by flame ionisation, converted to mass by predicted response factors.

T. de Saint Laumer, C. Cicchetti, P. Merle, J. Egger, A. Chaintreau, Anal. Chem. 2010, 82, 6457: its formula gives
limonene (C10H16) 0.765 and eugenol (C10H12O2, one benzene ring) 0.947, computed by hand below.
"""

from __future__ import annotations

import pandas as pd
import pytest

from reaccord.answer.fit import fit
from reaccord.contract import Budget
from reaccord.study.load import study_from_frames

SETTINGS = """
[target]
table = "target.csv"
basis = "fid-area"
[shelf]
bottles = "bottles.csv"
[batch]
accord_g = 10
"""
LIMONENE = 1000 * (136.238 / 158.24) / (-61.3 + 88.8 * 10 + 18.7 * 16)
EUGENOL = 1000 * (164.204 / 158.24) / (-61.3 + 88.8 * 10 + 18.7 * 12 - 41.3 * 2 + 127)


def test_area_percent_becomes_mass_and_keeps_its_sum() -> None:
    assert pytest.approx(0.765, abs=5e-4) == LIMONENE
    assert pytest.approx(0.947, abs=5e-4) == EUGENOL
    study = study_from_frames(
        SETTINGS,
        {
            "target.csv": pd.DataFrame({"constituent": ["limonene", "eugenol"], "A": ["60", "36"]}),
            "bottles.csv": pd.DataFrame(
                {"material": ["L", "E"], "constituent": ["limonene", "eugenol"], "purity": ["100", "100"]}
            ),
        },
    )
    assert study.target.published_sum == pytest.approx(0.96)
    found = fit(study, Budget(gap=1e-12), shorten=False)
    mass = {key.material: grams for key, grams in found.amounts.items()}
    expected = 10 * 60 * LIMONENE / (60 * LIMONENE + 36 * EUGENOL)
    assert mass["L"] == pytest.approx(expected, rel=2e-4)
    assert mass["E"] == pytest.approx(10 - expected, rel=2e-4)
