"""When nothing fits: a smallest set of limits that cannot hold together, in sentences."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from reaccord.contract import LimitRow, Programme
from reaccord.domain.study import Study
from reaccord.programme import CARRIER_ON_HAND
from reaccord.solvers.possible import possible

WEIGHABLE, ON_HAND = "the smallest weighable masses", "the grams on hand"


def explain(study: Study, programme: Programme) -> str:
    """Return what to tell a person whose limits allow no formula.

    Limits are dropped one by one; those that are not needed for the conflict stay dropped.
    """
    batch = study.settings.batch.accord_g
    sentences = list(dict.fromkeys([*map(sentence_of, programme.limits), WEIGHABLE, ON_HAND]))
    if not possible_without(programme, sentences):
        return (
            f"No formula is possible: nothing that may be poured makes {batch:g} g of the target's own "
            f"constituents, even without any limit.{_set_aside(study)}"
        )
    left_out: list[str] = []
    for sentence in sentences:
        if not possible_without(programme, [*left_out, sentence]):
            left_out.append(sentence)
    together = [sentence for sentence in sentences if sentence not in left_out]
    listed = "\n".join(f"  {sentence}" for sentence in together)
    if len(together) == 1:
        return f"No formula fits. This alone cannot hold for {batch:g} g:\n{listed}"
    return (
        f"No formula fits all limits. These cannot hold together for {batch:g} g:\n{listed}\n"
        "Loosening one of them makes way."
    )


def _set_aside(study: Study) -> str:
    """Name the bottles that hold something of the target and must not be poured: they are what can make way."""
    members = {name for row in study.target.rows for name in row.members if row.kind == "named"}
    aside = [
        f"  {item.stock.key.material}: {item.reason}"
        for item in study.set_aside
        if item.stock.recipe is None and any(item.stock.content.typical.get(name, 0.0) > 0 for name in members)
    ]
    return "\nSet aside, though of use:\n" + "\n".join(dict.fromkeys(aside)) if aside else ""


def sentence_of(row: LimitRow) -> str:
    """Return the sentence a row is dropped by: its own, but rows on a carrier's grams go together."""
    return "the carrier on hand, with all dilutions made" if row.limit == CARRIER_ON_HAND else row.sentence


def possible_without(programme: Programme, without: Collection[str]) -> bool:
    """Whether a formula exists once the limits said by these sentences are left out."""
    kept = tuple(row for row in programme.limits if sentence_of(row) not in without)
    free = [name for name, said in (("weighable", WEIGHABLE), ("on hand", ON_HAND)) if said in without]
    return possible(replace(programme, limits=kept), free)
