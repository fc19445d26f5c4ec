"""When nothing fits: a smallest set of limits that cannot hold together, in sentences."""

from __future__ import annotations

from reaccord.contract import Programme
from reaccord.domain.study import Study
from reaccord.solvers.possible import possible


def explain(study: Study, programme: Programme) -> str:
    """Return what to tell a person whose limits allow no formula.

    Limits are dropped one by one; those that are not needed for the conflict stay dropped.
    """
    sentences = {row.limit: row.sentence for row in programme.limits}
    batch = study.settings.batch.accord_g
    sentences["weighable"] = "the smallest weighable masses"
    sentences["on hand"] = "the grams on hand"
    left_out: list[str] = []
    if not possible(programme, list(sentences)):
        return (
            f"No formula is possible: nothing that may be poured makes {batch:g} g of the target's own "
            "constituents, even without any limit."
        )
    for name in sentences:
        if not possible(programme, [*left_out, name]):
            left_out.append(name)
    together = [name for name in sentences if name not in left_out]
    together = together or list(sentences)
    listed = "\n".join(f"  {sentences[name]}" for name in together)
    if len(together) == 1:
        return f"No formula fits. This alone cannot hold for {batch:g} g:\n{listed}"
    return (
        f"No formula fits all limits. These cannot hold together for {batch:g} g:\n{listed}\n"
        "Loosening one of them makes way."
    )
