"""The desk in a real browser: headless Chromium, driven by playwright; where either is missing these tests skip."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from tests.cli.process import environment, reaccord
from tests.desk_studies import colours

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe-playwright-python is not installed")

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
PATIENCE = 60_000
"""Milliseconds after which something counts as hung; no test measures time."""
COST = '["limits", "cost_per_kg"]'

pytestmark = [  # not in the suite: a browser takes longer than all it tests
    pytest.mark.sweep,
    pytest.mark.quick,
    pytest.mark.skipif(CHROMIUM is None, reason="no Chromium is installed (Debian: apt-get install chromium)"),
]


@dataclass
class Opened:
    """The desk's page in a browser, and what it did there."""

    page: Any
    file: Path
    address: str
    console: list[str] = field(default_factory=list)
    requests: list[str] = field(default_factory=list)

    def settled(self, text: str = "proven") -> str:
        """Wait for the proof; return the verdict."""
        self.page.locator("#certainty", has_text=re.compile(f"^{text}$")).wait_for(timeout=PATIENCE)
        return str(self.page.locator("#verdict").inner_text())

    def field(self, name: str) -> Any:
        return self.page.locator(f"#handles [name='{name}']")

    def moved(self, text: str) -> None:
        """Wait until the ledger's newest line says so."""
        self.page.locator("#tried tr.here", has_text=text).wait_for(timeout=PATIENCE)


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Path, str]]:
    """A desk in a process of its own: the study's file, the address."""
    file = colours(tmp_path_factory.mktemp("desk"))
    words = [sys.executable, "-m", "reaccord", "desk", str(file), "--no-browser"]
    process = subprocess.Popen(words, stderr=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=environment())
    assert process.stderr is not None
    address = next(found[0] for line in process.stderr if (found := re.search(r"http://\S+", line)))
    yield file, address
    process.send_signal(signal.SIGINT)
    out, _ = process.communicate(timeout=PATIENCE / 1000)
    assert process.returncode == 0
    assert out.startswith("Saved: ")


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with playwright.sync_playwright() as driver:
        arguments = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
        made = driver.chromium.launch(executable_path=CHROMIUM, args=arguments)
        yield made
        made.close()


@pytest.fixture(scope="module")
def opened(served: tuple[Path, str], browser: Any) -> Iterator[Opened]:
    """One tab for all tests here: each has a process of its own."""
    file, address = served
    page = browser.new_context(viewport={"width": 1440, "height": 1000}).new_page()
    made = Opened(page, file, address)
    page.on("console", lambda said: made.console.append(said.text))
    page.on("pageerror", lambda fault: made.console.append(str(fault)))
    page.on("request", lambda asked: made.requests.append(asked.url))
    page.goto(address)
    made.settled()
    yield made
    own = re.match(r"http://[^/]+/[^/]+/", address)
    assert own is not None
    assert made.console == []
    assert [url for url in made.requests if not url.startswith(own[0])] == []
    page.context.close()


@pytest.fixture
def desk(opened: Opened) -> Opened:
    """The tab with every handle as the study stands."""
    if opened.page.locator("#start").is_enabled():
        opened.page.locator("#start").click()
        opened.moved("as the study stands")
    opened.settled()
    return opened


def test_a_move_an_undo_and_the_saved_study_which_fit_answers_alike(desk: Opened) -> None:
    before = desk.page.locator("#pour").inner_text()
    desk.field(COST).fill("30")
    desk.field(COST).press("Enter")
    desk.moved("Cost at most: 30")
    desk.settled()
    poured = desk.page.locator("#pour tbody tr").all_inner_texts()
    assert desk.page.locator("#pour").inner_text() != before
    desk.page.locator("#s-study").fill("cheap.toml")
    desk.page.locator("#s-study").press("Enter")
    desk.page.locator("#saved", has_text="Saved as cheap.toml").wait_for(timeout=PATIENCE)
    data = reaccord("fit", desk.file.parent / "cheap.toml", "--output", "json").json["data"]
    assert [line["material"] for line in data["formula"]] == [re.split(r",? \d+ %|\t", row)[0] for row in poured]
    assert [f"{line['grams']:.2f}" for line in data["formula"]] == [row.split("\t")[1] for row in poured]
    desk.page.locator("#undo").click()
    desk.moved("as the study stands")
    desk.settled()
    assert desk.field(COST).input_value() == "60"
    assert desk.page.locator("#pour").inner_text() == before
    desk.page.locator("#redo").click()
    desk.moved("Cost at most: 30")


def test_what_to_pour_stands_in_the_order_of_the_sheet_where_that_is_asked_for(desk: Opened) -> None:
    """As `weigh` writes it, also after another answer has come; the focus stays where it was."""

    def first() -> list[str]:
        return [row.split("\t")[1] for row in desk.page.locator("#pour tbody tr").all_inner_texts()]

    by_name = first()
    desk.page.locator("[data-by=order]").click()
    by_order = first()
    desk.page.locator("#s-formula").fill("ordered.csv")
    desk.page.locator("#s-formula").press("Enter")
    desk.page.locator("#saved", has_text="Saved as ordered.csv").wait_for(timeout=PATIENCE)
    words = ("--formula", desk.file.parent / "ordered.csv", "--output", "json", "--quiet")
    lines = reaccord("weigh", desk.file, *words).json["data"]["lines"]
    assert by_order == [f"{line['grams']:.2f}" for line in lines] != by_name
    desk.field(COST).fill("30")
    desk.field(COST).press("Enter")
    desk.moved("Cost at most: 30")
    desk.settled()
    places = [int(row.get_attribute("data-order")) for row in desk.page.locator("#pour tbody tr").all()]
    assert places == sorted(places)
    assert desk.field(COST).evaluate("field => field === document.activeElement")
    desk.page.locator("[data-by=place]").click()


def test_nonsense_is_said_beside_its_field_and_the_answer_stays(desk: Opened) -> None:
    before = desk.settled()
    desk.field(COST).fill("dear")
    desk.field(COST).press("Enter")
    says = desk.page.locator(".handle .says", has_text='"dear" is not a number.')
    says.wait_for(timeout=PATIENCE)
    assert desk.field(COST).get_attribute("aria-invalid") == "true"
    assert desk.field(COST).get_attribute("aria-describedby") == says.get_attribute("id")
    assert desk.settled() == before


def test_the_keyboard_reaches_and_moves_everything(desk: Opened) -> None:
    page = desk.page
    reached = set[int]()
    page.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")
    wanted = page.eval_on_selector_all(
        "a[href], button:not(:disabled), input:not([type=hidden]):not(:disabled), select, summary",
        "all => all.map((each, number) => each.reach = number + 1).length",
    )
    for _ in range(wanted + 5):
        page.keyboard.press("Tab")
        reached.add(page.evaluate("document.activeElement.reach || 0"))
    assert len(reached - {0}) == wanted
    slider = page.get_by_label("Cost at most, slider")
    slider.focus()
    page.keyboard.press("ArrowLeft")
    desk.moved("Cost at most: 59")
    page.locator("#pour button", has_text="leave out").first.focus()
    page.keyboard.press("Enter")
    desk.moved("without")
    page.locator("summary", has_text="Bottles").focus()
    page.get_by_label("Red (b)", exact=True).focus()
    page.keyboard.press("Space")
    desk.moved("without Red (b)")
    page.keyboard.press("Control+z")
    page.locator("#tried tr.here").filter(has_not_text="Red (b)").wait_for(timeout=PATIENCE)


def test_a_slider_dragged_ends_where_it_is_let_go(desk: Opened) -> None:
    slider = desk.page.get_by_label("Cost at most, slider")
    for cost in range(50, 20, -1):
        slider.evaluate(f"each => {{ each.value = {cost}; each.dispatchEvent(new Event('input', {{bubbles: true}})) }}")
    desk.moved("Cost at most: 21")
    desk.settled()
    assert desk.field(COST).input_value() == "21"
    assert desk.page.locator("#limits tr", has_text="cost").inner_text().split("\t")[2] == "21.00"


@pytest.mark.parametrize(("width", "scheme"), [(1440, "light"), (320, "dark")])
def test_axe_finds_nothing_serious_and_nothing_runs_over_the_edge(desk: Opened, width: int, scheme: str) -> None:
    desk.page.set_viewport_size({"width": width, "height": 900})
    desk.page.emulate_media(color_scheme=scheme)
    desk.page.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")
    found = axe.Axe().run(desk.page).response["violations"]
    serious = [each for each in found if each["impact"] in {"serious", "critical"}]
    assert serious == [], json.dumps(serious, indent=1)[:3000]
    assert desk.page.evaluate("document.documentElement.scrollWidth") <= width
