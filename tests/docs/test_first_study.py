"""A person who has only the README reaches the formula: its commands, in an empty folder, print what it shows."""

from __future__ import annotations

import pytest
from tests.docs.papers import section
from tests.docs.shown import Ran, missing, run_all

STEPS = ("Your first study", "Cheaper, stronger, from year to year, by the hundred", "At the balance, and after")


@pytest.fixture(scope="module")
def runs(tmp_path_factory: pytest.TempPathFactory) -> list[Ran]:
    folder = tmp_path_factory.mktemp("first")
    return [ran for heading in STEPS for ran in run_all(section("README.md", heading), folder)]


def test_every_command_does_its_work(runs: list[Ran]) -> None:
    """One fails, and the README says so: the first check."""
    stopped = [ran for ran in runs if "nothing was solved" in ran.shown]
    assert len(runs) > len(stopped) == 1
    for ran in runs:
        assert ran.code == (3 if ran in stopped else 0), f"{ran.commands}\n{ran.out}"


def test_what_is_shown_is_printed(runs: list[Ran]) -> None:
    shown = [ran for ran in runs if ran.shown]
    assert len(shown) >= 6
    for ran in shown:
        lost = missing(ran.shown, ran.out)
        assert not lost, f"the README has drifted: {lost}\nreally printed:\n{ran.out}"


def test_the_first_check_is_shown_whole(runs: list[Ran]) -> None:
    (stopped,) = (ran for ran in runs if "nothing was solved" in ran.shown)
    assert stopped.shown == stopped.out


def test_the_formula_is_a_table_that_reads_back(runs: list[Ran]) -> None:
    """`compare` of what `fit` wrote says of every row what `fit` said."""
    (ran,) = (ran for ran in runs if "reaccord compare" in ran.commands)
    pours = ran.out.split("\nPour")[1:]
    assert len(pours) == 2
    fitted, compared = (part.partition("\nNot named")[0].splitlines()[1:10] for part in pours)
    assert [line.split("  ")[0] for line in fitted] == [line.split("  ")[0] for line in compared]
