"""When nothing fits: a smallest set of limits that cannot hold together, in sentences."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace

import numpy as np

from reaccord.answer.rounding.off_grid import without_off_grid
from reaccord.answer.why.dropped import ON_HAND, WEIGHABLE, Dropped
from reaccord.answer.why.relaxed import relaxed
from reaccord.contract import FloatArray, LimitRow, Programme
from reaccord.domain.limit_key import LimitKey
from reaccord.domain.study import Study
from reaccord.programme import state

Sentences = Mapping[str, frozenset[LimitKey]]
"""What can be dropped, by what is said of it: the two halves of an exact amount are one thing to people."""

SECONDS, SECONDS_EACH = 6.0, 3.0
"""For how far limits must give way: for all of a conflict, and for one of them."""
_WORDS = {2: "two", 3: "three", 4: "four", 5: "five", 6: "six"}


def explain(study: Study, programme: Programme) -> str:
    """Return what to tell a person whose limits allow no formula.

    Limits are dropped one by one; those that are not needed for the conflict stay dropped. What keeps a bottle from
    being poured is a limit like others.
    """
    batch = study.settings.batch.accord_g
    asked = Dropped(with_set_aside(study, programme))
    sentences = sentences_of(asked.programme)
    if not asked.possible(frozenset().union(*sentences.values())):
        return (
            f"No formula is possible: nothing on this shelf makes {batch:g} g of the target's own constituents, "
            "even without any limit."
        )
    together = _smallest(asked, sentences)
    enough = [sentence for sentence in together if asked.possible(sentences[sentence])]
    listed = _listed(study, asked, {sentence: sentences[sentence] for sentence in together}, enough)
    listed += _besides(together, enough)
    if len(together) == 1:
        return f"No formula fits. This alone cannot hold for {batch:g} g:\n{listed}"
    count = _WORDS.get(len(together), str(len(together)))
    return f"No formula fits all limits. These {count} cannot hold together for {batch:g} g:\n{listed}"


def _listed(study: Study, asked: Dropped, together: Sentences, enough: Collection[str]) -> str:
    """Return the limits of a conflict, a line each, and from where on each leaves a formula possible by itself."""
    each = min(SECONDS_EACH, SECONDS / len(together))
    ways = [relaxed(study, asked, keys, each, alone=sentence in enough) for sentence, keys in together.items()]
    widest = max(len(sentence) for sentence, way in zip(together, ways, strict=True) if way) if any(ways) else 0
    return "\n".join(
        f"  {sentence:<{widest}}   {way}" if way else f"  {sentence}"
        for sentence, way in zip(together, ways, strict=True)
    )


def cannot_hold_together(programme: Programme) -> list[str]:
    """Return a smallest set of limits of a programme that cannot hold together; nothing if no limit is why."""
    sentences, asked = sentences_of(programme), Dropped(programme)
    if not asked.possible(frozenset().union(*sentences.values())) or asked.possible(()):
        return []
    return _smallest(asked, sentences)


def _besides(together: list[str], enough: list[str]) -> str:
    """Say which of them are enough to drop, all other limits in force."""
    if len(enough) == len(together):
        return "" if len(together) == 1 else "\nDropping any one of them gives a formula."
    if not enough:
        return "\nThere is another conflict besides: dropping one of these is not enough."
    return f"\nDropping one of these gives a formula: {'; '.join(enough)}. Of the others another conflict is left."


def sentences_of(programme: Programme) -> Sentences:
    """Return what can be dropped; that a dilution is made before it is poured cannot."""
    found: dict[str, frozenset[LimitKey]] = {}
    for row in programme.limits:
        if row.key.kind != "made":
            found[row.sentence] = found.get(row.sentence, frozenset()) | {row.key}
    return {**found, "the smallest weighable masses": frozenset({WEIGHABLE}), "the grams on hand": frozenset({ON_HAND})}


def _smallest(asked: Dropped, sentences: Sentences) -> list[str]:
    """Return limits that cannot hold together, of which none can be left out."""
    left_out, together = frozenset[LimitKey](), list[str]()
    for sentence, keys in sentences.items():
        if asked.possible(left_out | keys):
            together.append(sentence)
        else:
            left_out |= keys
    return together


def with_set_aside(study: Study, programme: Programme) -> Programme:
    """Return a study's programme with the bottles that must not be poured, and for each material what keeps it out."""
    if not study.set_aside:
        return programme
    aside = {item.stock.key: item for item in study.set_aside}
    everything = sorted(study.every_stock, key=lambda stock: stock.key)
    whole = replace(study, stocks=tuple(everything), set_aside=())
    off_grid = any(row.key.kind == "off grid" for row in programme.limits)
    programme = state(whole)
    programme = (without_off_grid(programme) if off_grid else None) or programme
    none = np.zeros(len(programme.columns))
    kept_out: dict[tuple[str, str], FloatArray] = {}
    for column, stock in enumerate(everything):
        if stock.key in aside:
            kept_out.setdefault((stock.key.material, aside[stock.key].reason), none.copy())[column] = 1.0
    rows = []
    for why, columns in kept_out.items():
        said = f"{why[0]} is left out: {why[1]}"
        rows.append(LimitRow(LimitKey("set aside", why), said, said, none, columns, 0.0))
    return replace(programme, limits=(*programme.limits, *rows))
