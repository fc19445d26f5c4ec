"""A blend of three published oils is found again among six.

Figures: Benomari et al., Molecules 2023, 28, 4439 (percent of each oil, re-typed; only what is above zero). Species
labels are the source's. The target is computed: 50 % of the first, 30 % of the second, 20 % of the third.
"""

from __future__ import annotations

import pandas as pd
import pytest

from reaccord.answer.fit import fit
from reaccord.study.load import study_from_frames

# fmt: off
OILS = {
    "Eucalyptus Globulus": {
        "α-pinene": 6.3, "β-pinene": 0.2, "myrcene": 0.1, "α-phellandrene": 0.2, "p-cymene": 0.9, "limonene": 3.3,
        "1,8-cineole": 80.2, "β-phellandrene": 0.2, "Z-β-ocimene": 0.1, "terpinolene": 0.1, "terpinen-4-ol": 0.2,
        "α-terpineol": 2.4, "E-β-caryophyllene": 0.3,
    },
    "Mentha Pulegium": {
        "α-thujene": 0.1, "α-pinene": 0.5, "oct-1-en-3-ol": 0.8, "β-pinene": 0.2, "3-Octanol": 0.8, "limonene": 1.1,
        "1,8-cineole": 0.6, "γ-terpinene": 0.1, "Menthone": 10.8, "Iso-Menthone": 0.7, "Neo-Menthol": 1.6,
        "Pulegone": 77.3, "Piperitone": 0.3, "Neo-Menthyl acetate": 0.1, "Iso-Menthyl acetate": 0.1,
        "Piperitenone": 2.7, "E-β-caryophyllene": 0.3, "α-humulene": 0.4,
    },
    "Thymus Capitatus": {
        "α-thujene": 0.2, "α-pinene": 0.9, "camphene": 0.2, "oct-1-en-3-ol": 0.5, "β-pinene": 0.1, "myrcene": 2.1,
        "α-phellandrene": 0.2, "3-carene": 0.1, "α-terpinene": 1.7, "p-cymene": 12.4, "Z-β-ocimene": 0.6,
        "γ-terpinene": 4.3, "trans-Hydrate sabinene": 0.1, "terpinolene": 0.2, "linalool": 1.7, "camphor": 0.1,
        "Isoborneol": 0.5, "borneol": 0.3, "terpinen-4-ol": 1.1, "α-terpineol": 0.1, "thymol": 0.6, "carvacrol": 69.6,
        "Eugenol": 0.1, "E-β-caryophyllene": 1.6, "α-humulene": 0.1, "caryophyllene oxyde": 0.1,
    },
    "Eucalyptus Polybractea": {
        "α-pinene": 4.5, "β-pinene": 4.7, "α-phellandrene": 1.8, "α-terpinene": 2.8, "p-cymene": 23.8,
        "1,8-cineole": 42.5, "β-phellandrene": 0.1, "E-β-ocimene": 1.5, "γ-terpinene": 2.4, "Cryptone": 5.9,
        "terpinen-4-ol": 2.9, "Spathulenol": 2.3,
    },
    "Lavandula Stoechas": {
        "tricyclene": 0.1, "α-pinene": 1.7, "camphene": 2.1, "thuja-2,4(10)diene": 0.2, "3-carene": 2.1,
        "p-cymene": 0.5, "1,8-cineole": 14.8, "γ-terpinene": 0.1, "Fenchone": 37.8, "linalool": 0.7,
        "Fencyl alcohol": 1.1, "camphor": 19.5, "cis-verbenol": 0.3, "trans-verbenol": 0.3, "Isoborneol": 0.5,
        "terpinen-4-ol": 0.4, "Menthol": 0.9, "Myrtenal": 0.7, "Fenchyl acétate": 0.6, "bornyl acetate": 3.6,
        "Myrtenyl acetate": 3.7, "α-copaene": 0.6, "E-β-caryophyllene": 0.2, "epi-globulol": 0.4,
        "caryophyllene oxyde": 0.2, "Viridiflorol": 1.2, "Cubenol": 0.6, "Tau-muurolol": 0.2,
    },
    "Mentha Piperita": {
        "(E)-2-Hexenal": 0.1, "α-pinene": 0.2, "β-pinene": 0.3, "myrcene": 1.2, "1,8-cineole": 3.8,
        "Z-β-ocimene": 0.4, "E-β-ocimene": 0.4, "γ-terpinene": 0.2, "terpinolene": 0.1, "linalool": 40.4,
        "2-Methyl-butyl isovalerate": 0.4, "3-Octyl acetate": 0.2, "α-terpineol": 6.4, "Nerol": 1.1, "Pulegone": 0.1,
        "Geraniol": 2.4, "Linalyl acetate": 32.6, "Geranial": 0.2, "Neryl formate": 0.1, "Lavandulyl acetate": 0.1,
        "α-terpinyl acetate": 0.1, "Neryl acetate": 2.7, "Geranyl acetate": 2.5, "β-bourbonene": 0.1,
        "E-β-caryophyllene": 0.8, "E-β-farnesene": 0.1, "γ-muurolene": 0.1, "germacrene D": 0.1, "γ-cadinene": 0.2,
        "trans-Calamenene": 0.2, "Cadina-1,4-diene": 0.1, "α-cadinene": 0.2, "caryophyllene oxyde": 0.3,
        "Globulol": 0.5,
    },
}
# fmt: on
BLEND = {"Eucalyptus Globulus": 0.5, "Mentha Pulegium": 0.3, "Thymus Capitatus": 0.2}
SINGLES = ("1,8-cineole", "Pulegone", "carvacrol", "p-cymene", "linalool", "limonene")
SETTINGS = """
[target]
table = "target.csv"
[shelf]
bottles = "bottles.csv"
compositions = "compositions.csv"
[batch]
accord_g = 20
[balance]
readability_g = {step}
minimum_g = 0.02
[fit]
scale = "{scale}"
"""


def blended() -> dict[str, float]:
    """Return the blend's constituents, percent of the blend."""
    found: dict[str, float] = {}
    for oil, part in BLEND.items():
        for name, percent in OILS[oil].items():
            found[name] = found.get(name, 0.0) + part * percent
    return found


@pytest.mark.parametrize("scale", ["proportional", "equal", "relative"])
@pytest.mark.parametrize("step", [0.001, 0.01])
def test_the_blend_is_found_again(scale: str, step: float) -> None:
    target = blended()
    singles = [{"material": f"{name} pure", "constituent": name, "purity": "99"} for name in SINGLES]
    study = study_from_frames(
        SETTINGS.format(step=step, scale=scale),
        {
            "target.csv": pd.DataFrame({"constituent": target.keys(), "blend": [f"{p:.6g}" for p in target.values()]}),
            "bottles.csv": pd.DataFrame([*({"material": oil} for oil in OILS), *singles]),
            "compositions.csv": pd.DataFrame(
                [
                    {"material": oil, "part": name, "share": f"{percent:g}"}
                    for oil, parts in OILS.items()
                    for name, percent in parts.items()
                ]
            ),
        },
    )
    found = fit(study)
    poured = {key.material: grams for key, grams in found.amounts.items()}
    assert poured.keys() == BLEND.keys()
    total = sum(poured.values())
    assert total == pytest.approx(20 / (sum(target.values()) / 100), abs=step * len(BLEND))
    for oil, part in BLEND.items():
        assert poured[oil] == pytest.approx(part * total, abs=1.001 * step)
    assert found.judged_before.closeness.value <= 1e-9
