"""`reaccord blind`: coded vials to serve, and what the answers prove."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NamedTuple

import typer

from reaccord.cli import numbers
from reaccord.cli import options as opt
from reaccord.cli.command import command
from reaccord.cli.result import Result
from reaccord.findings import UsageError

if TYPE_CHECKING:
    from reaccord.answer.judge import Judgement
    from reaccord.balance.discrimination import Test
    from reaccord.balance.equal_strength import Vial
    from reaccord.domain.study import Study

TESTS: tuple[Test, ...] = ("triangle", "paired")


@command()
def blind(
    study: opt.Study,
    key: Annotated[
        Path | None,
        opt.path_option("--key", "What each vial holds (CSV): written first, read with --answers."),
    ] = None,
    test: Annotated[
        str | None, typer.Option("--test", metavar="triangle|paired", help="Which test; default triangle.")
    ] = None,
    assessors: Annotated[
        str | None, typer.Option("--assessors", metavar="N", help="How many smell; default 6.")
    ] = None,
    samples: Annotated[
        str | None,
        typer.Option("--samples", metavar="NAME,NAME", help="What is compared; default accord,reference."),
    ] = None,
    seed: Annotated[
        str | None, typer.Option("--seed", metavar="N", help="The same seed, the same codes; default by chance.")
    ] = None,
    answers: Annotated[
        Path | None, opt.path_option("--answers", "The sheet with its answers (CSV): says what they prove.")
    ] = None,
    expected: Annotated[
        str | None,
        typer.Option("--expected", metavar="NAME", help="Paired: the one sample that was expected to win."),
    ] = None,
    formulas: Annotated[
        list[Path] | None,
        opt.path_option("--formula", "The formula smelled (CSV); said twice: the two samples, called by their files."),
    ] = None,
    *,
    options: opt.Options,
) -> Result:
    """Serve two samples blind in coded vials; with --answers: say what the answers prove."""
    if key is None:
        raise UsageError("--key FILE is needed: what each vial holds is kept apart from the sheet.")
    given = formulas or []
    named = _named(given, samples)
    smelled = _smelled(study, given, options, () if answers is not None else (key,))
    if answers is None:
        if expected is not None:
            raise UsageError("--expected is for --answers: which sample was expected to be chosen.")
        return _prepared(smelled, key, test, assessors, named or samples_of(samples), seed, options)
    for option, said in (("--assessors", assessors), ("--samples", samples), ("--seed", seed), ("--test", test)):
        if said is not None:
            raise UsageError(f"{option} is for making the sheet; with --answers the key says it.")
    return smelled.with_formulas(_scored(smelled.study, key, answers, expected or "", named, options))


def _named(formulas: Sequence[Path], samples: str | None) -> tuple[str, str] | None:
    """Return what two formulas are called: by their files."""
    if len(formulas) < 2:
        return None
    if samples is not None:
        raise UsageError("--samples names what has no formula; two of --formula are called by their files.")
    names = [path.stem for path in formulas]
    if len(names) > 2:
        raise UsageError(f"a blind test is of two samples; --formula names {len(names)}.")
    if names[0] == names[1]:
        raise UsageError(f'both of --formula are called "{names[0]}": who fills the vials could not tell them apart.')
    return names[0], names[1]


class _Smelled(NamedTuple):
    """The study, the formulas that are smelled, and these as data, for the record."""

    study: Study
    judged: tuple[Judgement, ...]
    data: dict[str, Any]

    def filled(self, names: tuple[str, str]) -> tuple[Vial, ...]:
        """Return what goes into a vial of each sample; nothing where one of the two is not known."""
        from reaccord.balance.equal_strength import REFERENCE
        from reaccord.balance.usual_vials import ACCORD, side_by_side

        if len(self.judged) == 2:
            return side_by_side(self.study, dict(zip(names, self.judged, strict=True)))
        if len(self.judged) == 1 and set(names) == {ACCORD, REFERENCE}:
            return side_by_side(self.study, {name: self.judged[0] if name == ACCORD else None for name in names})
        return ()

    def with_formulas(self, result: Result) -> Result:
        """Return the result with the formulas."""
        return replace(result, data={**result.data, **self.data})


def _smelled(study: Path, formulas: Sequence[Path], options: opt.Options, outputs: Sequence[Path]) -> _Smelled:
    from reaccord.cli.inputs import names_nothing, read_study, study_and_formulas

    if not formulas:
        return _Smelled(read_study(study, options, *outputs), (), {})
    from reaccord.answer.formula import formula_rows
    from reaccord.answer.judge import judge

    read, found = study_and_formulas(study, formulas, options, names_nothing)
    options.guard(formulas, *outputs)
    files = [item for each in found for item in each.study.inputs[len(read.inputs) :]]
    read = replace(read, inputs=(*read.inputs, *files), warnings=found[0].warnings)
    judged = tuple(judge(read, each.amounts) for each in found)
    rows = [formula_rows(each) for each in judged]
    if len(rows) == 1:
        return _Smelled(read, judged, {"formula": rows[0]})
    listed = [{"file": str(path), "formula": each} for path, each in zip(formulas, rows, strict=True)]
    return _Smelled(read, judged, {"formulas": listed})


def _prepared(
    smelled: _Smelled,
    key: Path,
    test: str | None,
    assessors: str | None,
    names: tuple[str, str],
    seed: str | None,
    options: opt.Options,
) -> Result:
    from reaccord.balance.discrimination import Rule
    from reaccord.balance.serving import served
    from reaccord.report.blind import Prepared, key_csv, sheet_csv, sheet_data, sheet_text
    from reaccord.report.files import same_file, write_whole

    if key.exists():
        raise UsageError(f"--key {key} is there already; a test that is served must keep its key. Name another file.")
    if same_file(key, options.out) or same_file(key, options.log):
        raise UsageError(f"--key {key}: another output goes to that file; name a file of its own.")
    kind = _test_of(test)
    number = numbers.whole_of("--assessors", assessors or "6", 1)
    vials = served(kind, names, number, None if seed is None else numbers.whole_of("--seed", seed, 0))
    read, filled = smelled.study, smelled.filled(names)
    found = Prepared(read, Rule(kind, two_sided=kind == "paired"), names, vials, key, filled)
    write_whole(key, key_csv(vials))
    sheet = Result(
        sheet_data(found),
        lambda width: sheet_text(found, width),
        lambda: sheet_csv(found),
        warnings=read.warnings,
    )
    return smelled.with_formulas(sheet)


def _scored(
    read: Study, key: Path, answers: Path, expected: str, named: tuple[str, str] | None, options: opt.Options
) -> Result:
    from reaccord.balance.discrimination import SERVED, Rule
    from reaccord.balance.serving import read_key, scored
    from reaccord.findings import Findings
    from reaccord.report.blind import verdict_csv, verdict_data, verdict_text
    from reaccord.tables import blind_tables

    options.guard([key, answers])
    findings = Findings()
    keyed, answered = blind_tables.read_key(key, findings), blind_tables.read_answers(answers, findings)
    behind = read_key(keyed[0], findings) if keyed else {}
    findings.raise_errors()
    served = {sample for codes in behind.values() for sample in codes.values()}
    if named and set(named) != served:
        raise UsageError(f"--formula: the key is of {' and '.join(sorted(served))}, not of {' and '.join(named)}.")
    assert keyed is not None
    assert answered is not None
    kind: Test = next(test for test in TESTS if SERVED[test] == len(next(iter(behind.values()))))
    if expected and kind == "triangle":
        raise UsageError("--expected is for a paired comparison; in a triangle the odd vial is right.")
    found = scored(behind, answered[0], Rule(kind, two_sided=kind == "paired" and not expected), expected, findings)
    findings.raise_errors()
    assert found is not None
    read = replace(read, inputs=(*read.inputs, keyed[1], answered[1]))
    return Result(
        verdict_data(read, found),
        lambda width: verdict_text(read, found, width),
        lambda: verdict_csv(read, found),
        warnings=(*read.warnings, *findings.warnings),
    )


def _test_of(text: str | None) -> Test:
    for test in TESTS:
        if test == (text or "triangle"):
            return test
    raise UsageError(f'--test takes triangle or paired, not "{text}".')


def samples_of(text: str | None) -> tuple[str, str]:
    """Read `--samples`.

    Raises
    ------
    UsageError
        If it does not name two.
    """
    names = [name.strip() for name in (text or "accord,reference").split(",")]
    if len(names) != 2 or not all(names) or names[0] == names[1]:
        raise UsageError(f'--samples takes two names, as "accord,reference", not "{text}".')
    return names[0], names[1]
