"""The same tables in any order of rows, columns and keys give the same answer, to the last byte."""

from __future__ import annotations

import json

import pytest
from tests.random_studies import draw
from tests.seeds import seeds

from reaccord.answer.fit import fit
from reaccord.domain.study import Study
from reaccord.findings import NoFormula
from reaccord.report.data import fit_data


def printed(study: Study) -> str:
    """Return the answer as JSON, but for the digests of the inputs and the seconds."""
    try:
        data = fit_data(fit(study))
    except NoFormula as fault:
        return str(fault)
    del data["inputs"], data["solver"]["seconds"]
    data["target"]["samples"].sort()  # printed in the order of the columns
    return json.dumps(data, sort_keys=True)


@seeds(0, 8, 40, 400)
def test_order_never_matters(seed: int) -> None:
    draft = draw(seed, measure="squares")
    expected = printed(draft.study())
    for order in (1, 2):
        assert printed(draft.shuffled(order).study()) == expected


@pytest.mark.parametrize("measure", ["absolute", "worst"])
@pytest.mark.parametrize("seed", [0, 3, 5])
def test_order_never_matters_to_the_linear_measures(seed: int, measure: str) -> None:
    draft = draw(seed, measure=measure)
    assert printed(draft.shuffled(1).study()) == printed(draft.study())
