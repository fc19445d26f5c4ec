"""When nothing fits: a smallest set of limits that cannot hold together, in sentences."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

import numpy as np

from reaccord.answer.rounding.off_grid import OFF_GRID, without_off_grid
from reaccord.contract import FloatArray, LimitRow, Programme
from reaccord.domain.study import Study
from reaccord.programme import CARRIER_ON_HAND, state, steps
from reaccord.solvers.possible import possible

WEIGHABLE, ON_HAND = "the smallest weighable masses", "the grams on hand"


def explain(study: Study, programme: Programme) -> str:
    """Return what to tell a person whose limits allow no formula.

    Limits are dropped one by one; those that are not needed for the conflict stay dropped. What keeps a bottle from
    being poured is a limit like others.
    """
    batch = study.settings.batch.accord_g
    programme = with_set_aside(study, programme)
    if not possible_without(programme, _sentences(programme)):
        return (
            f"No formula is possible: nothing on this shelf makes {batch:g} g of the target's own constituents, "
            "even without any limit."
        )
    together = _smallest(programme)
    listed = "\n".join(f"  {sentence}" for sentence in together)
    if len(together) == 1:
        return f"No formula fits. This alone cannot hold for {batch:g} g:\n{listed}"
    return (
        f"No formula fits all limits. These cannot hold together for {batch:g} g:\n{listed}\n"
        "Loosening one of them makes way."
    )


def _sentences(programme: Programme) -> list[str]:
    return list(dict.fromkeys([*map(sentence_of, programme.limits), WEIGHABLE, ON_HAND]))


def _smallest(programme: Programme) -> list[str]:
    """Return limits that cannot hold together, of which none can be left out."""
    sentences, left_out = _sentences(programme), list[str]()
    for sentence in sentences:
        if not possible_without(programme, [*left_out, sentence]):
            left_out.append(sentence)
    return [sentence for sentence in sentences if sentence not in left_out]


def with_set_aside(study: Study, programme: Programme) -> Programme:
    """Return a study's programme with the bottles that must not be poured, and for each material what keeps it out."""
    if not study.set_aside:
        return programme
    aside = {item.stock.key: item for item in study.set_aside}
    everything = sorted((*study.stocks, *(item.stock for item in study.set_aside)), key=lambda stock: stock.key)
    whole = replace(study, stocks=tuple(everything), set_aside=())
    exactly = (
        without_off_grid(state(whole), steps(whole)) if any(r.limit == OFF_GRID for r in programme.limits) else None
    )
    programme = exactly or state(whole)
    none = np.zeros(len(programme.columns))
    kept_out: dict[str, FloatArray] = {}
    for column, stock in enumerate(everything):
        if stock.key in aside:
            sentence = f"{stock.key.material} is left out: {aside[stock.key].reason}"
            kept_out.setdefault(sentence, none.copy())[column] = 1.0
    rows = tuple(LimitRow("set aside", said, said, none, columns, 0.0) for said, columns in kept_out.items())
    return replace(programme, limits=(*programme.limits, *rows))


def sentence_of(row: LimitRow) -> str:
    """Return the sentence a row is dropped by: its own, but rows on a carrier's grams go together."""
    return "the carrier on hand, with all dilutions made" if row.limit == CARRIER_ON_HAND else row.sentence


def possible_without(programme: Programme, without: Collection[str]) -> bool:
    """Whether a formula exists once the limits said by these sentences are left out."""
    kept = tuple(row for row in programme.limits if sentence_of(row) not in without)
    free = [name for name, said in (("weighable", WEIGHABLE), ("on hand", ON_HAND)) if said in without]
    return possible(replace(programme, limits=kept), free)
