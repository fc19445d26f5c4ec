"""A study with one thing changed, nothing read again."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from reaccord.domain.settings import Settings
from reaccord.domain.settled import Settled
from reaccord.domain.study import Study
from reaccord.findings import Findings
from reaccord.study.assemble import assemble


def with_samples(study: Study, samples: Iterable[str]) -> Study:
    """Return the study of these samples of its target; of those it has read."""
    target = replace(study.settings.target, samples=tuple(samples))
    return _again(study, study.settled, replace(study.settings, target=target))


def _again(study: Study, settled: Settled, settings: Settings) -> Study:
    findings = Findings()
    findings.extend(settled.warnings)
    return replace(assemble(study.tables, settled, settings, findings), inputs=study.inputs)
