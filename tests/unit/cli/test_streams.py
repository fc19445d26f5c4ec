"""What goes to stderr: sentences break between words where a person reads them, and nowhere else."""

from __future__ import annotations

import io

import pytest

from reaccord.cli.streams import say_wrapped

SENTENCE = "warning: bottles.csv, row 20, column opened: Limonene is past its date; still used."


class Screen(io.StringIO):
    """A terminal as wide as COLUMNS says."""

    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize("width", [40, 80, 120])
def test_a_sentence_breaks_between_words_in_a_terminal(monkeypatch: pytest.MonkeyPatch, width: int) -> None:
    screen = Screen()
    monkeypatch.setattr("sys.stderr", screen)
    monkeypatch.setenv("COLUMNS", str(width))
    say_wrapped(SENTENCE)
    lines = screen.getvalue().splitlines()
    assert all(len(line) <= width for line in lines)
    assert " ".join(line.strip() for line in lines) == SENTENCE
    assert (len(lines) > 1) is (width < len(SENTENCE))


def test_the_lines_of_a_sentence_stay_apart(monkeypatch: pytest.MonkeyPatch) -> None:
    screen = Screen()
    monkeypatch.setattr("sys.stderr", screen)
    monkeypatch.setenv("COLUMNS", "80")
    say_wrapped("No formula fits:\n  cost at most 5.00 per kg")
    assert screen.getvalue() == "No formula fits:\n  cost at most 5.00 per kg\n"


def test_in_a_pipe_a_sentence_is_a_line(monkeypatch: pytest.MonkeyPatch) -> None:
    pipe = io.StringIO()
    monkeypatch.setattr("sys.stderr", pipe)
    monkeypatch.setenv("COLUMNS", "40")
    say_wrapped(SENTENCE)
    assert pipe.getvalue() == f"{SENTENCE}\n"
