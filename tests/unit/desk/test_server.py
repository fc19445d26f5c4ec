"""Who may talk to the desk, what its pages say, and that they work without script."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterator
from html import unescape
from html.parser import HTMLParser
from pathlib import Path

import pytest
from starlette.testclient import TestClient
from tests.desk_studies import Here, colours
from tests.studies import stock

from reaccord.desk import server, tab
from reaccord.desk.answering import Answered, Answering, Job, Message
from reaccord.desk.guard import MOST_BYTES
from reaccord.desk.handle import name_of
from reaccord.desk.opened import opened
from reaccord.desk.server import Desk

PORT = 8123
HERE = f"http://127.0.0.1:{PORT}"
COST = name_of("limits", "cost_per_kg")
SCRIPT = {"X-Desk": "1"}


class Served:
    """A desk that answers in this process."""

    def __init__(self, file: Path) -> None:
        self.file, self.desk = file, Desk(file, opened(file))
        self.client = TestClient(self.desk.app(PORT), base_url=HERE)

    def new(self) -> str:
        """Open a tab; return its address."""
        return str(self.client.get(f"/{self.desk.secret}/").url.path)

    def move(self, at: str, **fields: str) -> dict[str, object]:
        told: dict[str, object] = self.client.post(f"{at}move", data=fields, headers=SCRIPT).json()
        return told


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return colours(tmp_path / "study")


@pytest.fixture
def served(file: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Served]:
    monkeypatch.setattr(tab, "Worker", Here)
    monkeypatch.setattr(server, "LOOK_AGAIN", 0.02)
    made = Served(file)
    with made.client:
        yield made


def text_of(html: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", html)))


def test_another_host_origin_page_or_a_missing_secret_is_refused(served: Served) -> None:
    get, secret = served.client.get, served.desk.secret
    refused = [
        get(f"/{secret}/", headers={"Host": "evil.example"}),
        get(f"/{secret}/", headers={"Host": f"127.0.0.1:{PORT + 1}"}),
        get(f"/{secret}/", headers={"Origin": "https://evil.example"}),
        get(f"/{secret}/", headers={"Origin": "null"}),
        get(f"/{secret}/", headers={"Sec-Fetch-Site": "cross-site"}),
        get("/"),
        get("/wrong/"),
        get(f"/{secret}x/"),
    ]
    at = served.new()
    count = len(served.desk.tabs)
    refused.append(served.client.post(f"{at}move", data={COST: "1"}, headers={"Origin": "http://evil.example"}))
    refused.append(served.client.post(f"{at}save", content="x" * (MOST_BYTES + 1)))
    assert [answer.status_code for answer in refused] == [403] * len(refused)
    assert all(answer.text.startswith("Refused: ") and secret not in answer.text for answer in refused)
    assert len(served.desk.tabs) == count
    assert get(at, headers={"Host": f"localhost:{PORT}", "Origin": f"http://localhost:{PORT}"}).status_code == 200


def test_a_page_loads_nothing_runs_no_foreign_script_and_stands_in_no_frame(served: Served) -> None:
    answer = served.client.get(served.new())
    policy = answer.headers["content-security-policy"]
    nonce = re.search(r"script-src 'nonce-([^']+)'", policy)
    assert nonce is not None
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert answer.headers["x-frame-options"] == "DENY"
    assert answer.headers["referrer-policy"] == "no-referrer"
    assert set(re.findall(r'nonce="([^"]+)"', answer.text)) == {nonce[1]}
    assert not re.search(r"(src|href)=[\"']?(https?:|//)|@import|url\(| style=| on\w+=", answer.text)
    assert served.client.get(served.new()).headers["content-security-policy"] != policy


def test_the_script_is_ours_and_short() -> None:
    script = Path(server.__file__).parent / "templates" / "desk.js"
    assert len(script.read_text(encoding="utf-8").splitlines()) < 200


def test_without_script_a_form_moves_undoes_and_saves(served: Served, file: Path) -> None:
    at = served.new()
    page = served.client.get(at).text
    assert "no formula" not in page
    form = fields_of(page)
    moved = served.client.post(f"{at}move", data=form | {COST: "30"})
    assert str(moved.url) == f"{HERE}{at}"
    assert fields_of(moved.text)[COST] == "30"
    assert "was 60" in text_of(moved.text)
    assert "proven" in text_of(moved.text)
    assert text_of(moved.text).count("leave out") > 0
    back = served.client.post(f"{at}undo", data=form)
    assert fields_of(back.text)[COST] == "60"
    wrong = served.client.post(f"{at}move", data=form | {COST: "dear"})
    assert '"dear" is not a number.' in text_of(wrong.text)
    saved = served.client.post(f"{at}save", data={"what": "formula", "file": "f.csv"})
    assert "Saved as f.csv" in text_of(saved.text)
    assert (file.parent / "f.csv").exists()
    again = served.client.post(f"{at}save", data={"what": "formula", "file": "f.csv"})
    assert "Write over f.csv" in text_of(again.text)
    assert served.desk.saved == ["f.csv"]


def test_a_page_does_not_wait_for_a_search_that_takes_its_time(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class Silent(Here):
        def ask(self, job: Job) -> None:
            """Search for ever."""

    monkeypatch.setattr(tab, "Worker", Silent)
    monkeypatch.setattr(server, "SOON", 0.01)
    made = Served(file)
    with made.client:
        at = made.new()
        answer = made.client.get(at)
        saved = made.client.post(f"{at}save", data={"what": "formula", "file": "f.csv"}, headers=SCRIPT).json()
    assert answer.status_code == 200
    assert "There is no formula of these settings yet." in text_of(saved["parts"]["saved"])
    assert "Looking for the closest formula." in text_of(answer.text)
    assert fields_of(answer.text)[COST] == "60"
    assert '<noscript><meta http-equiv="refresh"' in answer.text


def test_a_page_with_its_proof_is_not_loaded_again(served: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(server, "SOON", 60.0)
    assert "http-equiv" not in served.client.get(served.new()).text


def test_a_switch_left_out_of_a_form_is_out(served: Served) -> None:
    at = served.new()
    form = fields_of(served.client.get(at).text)
    blue = name_of("bottle", "Red", "1", "", "b")
    del form[blue]
    page = served.client.post(f"{at}move", data=form).text
    assert blue not in fields_of(page)
    set_back = served.client.post(f"{at}move", data={"set": f"in {blue}"}).text
    assert fields_of(set_back)[blue] == "in"


def test_two_tabs_do_not_mix(served: Served) -> None:
    one, other = served.new(), served.new()
    assert one != other
    served.move(one, **{COST: "30"})
    assert fields_of(served.client.get(other).text)[COST] == "60"
    assert fields_of(served.client.get(one).text)[COST] == "30"


def test_a_move_tells_its_field_and_where_it_can_go_on(served: Served) -> None:
    told = served.move(served.new(), **{COST: "30,0"})
    assert told["undo"] is True
    assert told["redo"] is False
    field = told["fields"][0]  # type: ignore[index]
    assert (field["name"], field["text"], field["was"], field["says"]) == (COST, "30", "was 60", "")
    assert list(told["parts"]) == ["notices", "verdict"]  # type: ignore[call-overload]


def test_for_another_product_other_rules_are_in_force(served: Served) -> None:
    told = served.move(served.new(), **{name_of("limits", "product"): "candle"})
    groups = text_of(told["parts"]["groups"])  # type: ignore[index]
    assert "Blue" in groups
    assert "Two: green" not in groups


def test_tried_settings_are_laid_side_by_side(served: Served) -> None:
    at = served.new()
    served.client.post(f"{at}move", data={COST: "30"})
    page = served.client.get(f"{at}beside?n=1&n=2").text
    assert "Number 1 and number 2" in text_of(page)
    assert "Cost at most: 30 per kg of accord" in text_of(page)
    assert "Tick two" in served.client.get(f"{at}beside?n=1&n=77&n=x").text


def test_a_tab_that_is_gone_is_opened_anew(served: Served) -> None:
    at = f"/{served.desk.secret}/gone/"
    assert served.client.get(at).url.path != at
    assert served.client.post(f"{at}move", headers=SCRIPT).json() == {"gone": True}
    assert served.client.post(f"{at}undo").url.path != at


def test_names_of_every_kind_are_text(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    hostile = "<img src=x onerror=alert(1)>'</script>&amp"
    for name in ("target.csv", "bottles.csv", "limits.csv", "study.toml"):
        text = (file.parent / name).read_text(encoding="utf-8")
        text = re.sub(r"\b(Red|red|Two|Three)\b", rf"{hostile} \1", text)
        (file.parent / name).write_text(text, encoding="utf-8")
    monkeypatch.setattr(tab, "Worker", Here)
    made = Served(file)
    with made.client:
        page = made.client.get(made.new()).text
    assert "alert(1)" in page
    assert "<img" not in page
    assert page.count("</script>") == page.count("<script")


def test_a_study_with_findings_shows_them_and_comes_to_life(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tab, "Worker", Here)
    monkeypatch.setattr(server, "LOOK_AGAIN", 0.02)
    target = file.parent / "target.csv"
    right = target.read_text(encoding="utf-8")
    target.write_text(right.replace("red,60", "red,sixty"), encoding="utf-8")
    made = Served(file)
    with made.client:
        page = made.client.get(f"/{made.desk.secret}/")
        assert "target.csv, row 2, column G1" in text_of(page.text)
        assert "so nothing is worked out yet" in text_of(page.text)
        target.write_text(right + "\n", encoding="utf-8")
        told = made.client.get(f"/{made.desk.secret}/mended?reading=0").text
        assert json.loads(told.split("data: ")[1]) == {"read": True}
        assert "What to pour" in made.client.get(made.new()).text


def test_tables_changed_on_disk_are_offered_not_swapped(served: Served, file: Path) -> None:
    at = served.new()
    served.move(at, **{COST: "30"})
    bottles = file.parent / "bottles.csv"
    bottles.write_text(
        bottles.read_text(encoding="utf-8").replace("Blue,blue,90,200", "Blue,blue,90,20"), encoding="utf-8"
    )
    os.utime(bottles, (1, 1))
    while "changed since they were read" not in (page := text_of(served.client.get(at).text)):
        pass
    assert "Read them again" in page
    session = served.desk.tabs[at.split("/")[2]].session
    assert stock(session.study, "Blue", strength=1.0).price_per_g == 0.2
    first = re.search(r'<button type="submit" form="handles"[^>]*>', served.client.get(at).text)
    assert first is not None
    assert 'formaction="move"' in first[0]  # it is the one that Enter in a field presses
    after = served.client.post(f"{at}reload")
    assert "changed since" not in text_of(after.text)
    assert fields_of(after.text)[COST] == "30"
    assert stock(session.study, "Blue", strength=1.0).price_per_g == 0.02


def rewritten(path: Path, old: str, new: str, at: int) -> None:
    """Change a table so that it is noticed: a clock may be coarser than a test is quick."""
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")
    os.utime(path, (at, at))


def test_tables_that_are_refused_are_told_until_they_are_mended(served: Served, file: Path) -> None:
    at, target = served.new(), file.parent / "target.csv"

    def page_with(said: str, without: str = "nothing of the kind") -> str:
        while said not in (page := text_of(served.client.get(at).text)) or without in page:
            pass
        return page

    rewritten(target, "red,60", "red,sixty", 1)
    rewritten(target, "blue,10", "blue,-10", 2)
    page_with("Read them again")
    refused = text_of(served.client.post(f"{at}reload").text)
    assert "Not taken over: target.csv, row 2, column G1" in refused
    assert "Not taken over: target.csv, row 4, column G1" in refused
    rewritten(target, "red,sixty", "red,60", 3)
    left = page_with("Not taken over: target.csv, row 4", without="row 2, column G1")
    assert "Read them again" not in left, "they would be refused again"
    rewritten(target, "blue,-10", "blue,12", 4)
    page_with("Read them again", without="Not taken over")
    assert "Not taken over" not in text_of(served.client.post(f"{at}reload").text)
    named = served.desk.tabs[at.split("/")[2]].session.study.target.rows
    assert max(row.share for row in named) < 0.6, "the 12 for 10 counts"


def test_a_handle_that_could_not_be_kept_is_told_until_it_is_moved(served: Served, file: Path) -> None:
    at, red = served.new(), name_of("bottle", "Red", "1", "", "b")
    served.move(at, **{red: "out"})
    rewritten(file.parent / "bottles.csv", "Red,red,100,8,3,b\n", "", 1)
    told = served.client.post(f"{at}reload").text
    assert "Not kept: " in text_of(told)
    assert "Not kept: " in text_of(str(served.move(at, **{COST: "50"})["parts"]))
    assert "Not kept: " not in text_of(str(served.move(at, **{red: "in"})["parts"]))


def test_every_remark_about_the_tables_is_folded_on_the_page(served: Served, file: Path) -> None:
    at = served.new()
    session = served.desk.tabs[at.split("/")[2]].session
    before = len(session.study.warnings)
    rewritten(file.parent / "target.csv", "constituent,", "Compound,", 1)
    served.client.post(f"{at}reload")
    assert len(session.study.warnings) == before + 1
    page = served.client.get(at).text
    shown = page[page.index('<div id="remarks">') :].partition("</details>")[0]
    assert "<details><summary>" in shown, "folded, until somebody looks"
    assert f"{before + 1} remarks about the tables" in text_of(shown)
    for finding in session.study.warnings:
        assert f"{finding.place} {finding.message}" in text_of(shown)


def test_how_sure_an_answer_is_is_said_once(file: Path) -> None:
    """By the mark beside the sentence, which does not say it as well."""
    told: list[Answered] = []

    def keep(message: Message) -> None:
        if isinstance(message, Answered):
            told.append(message)

    study = opened(file).study
    assert study is not None
    Answering(study, keep, lambda seconds: seconds > 0).answer(Job(1, {}))
    assert [each.certainty for each in told][:1] == ["closest so far"]
    assert told[-1].certainty == "proven"
    assert all(each.certainty not in each.verdict for each in told)


class _Fields(HTMLParser):
    """What a browser sends of the form of handles."""

    def __init__(self) -> None:
        super().__init__()
        self.found: dict[str, str] = {}
        self.there: list[str] = []
        self._select = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        marks = {name: value or "" for name, value in attrs}
        name = marks.get("name", "")
        if tag == "input" and name == "there":
            self.there.append(marks["value"])
        elif tag == "input" and name.startswith("[") and (marks.get("type") != "checkbox" or "checked" in marks):
            self.found[name] = marks["value"]
        elif tag == "select":
            self._select = name
        elif tag == "option" and "selected" in marks:
            self._option = True

    _option = False

    def handle_data(self, data: str) -> None:
        if self._option:
            self.found[self._select], self._option = data, False


def fields_of(page: str) -> dict[str, str]:
    read = _Fields()
    read.feed(page)
    return read.found | {"there": read.there}  # type: ignore[dict-item]


def test_who_closed_the_page_goes_on_where_they_were(served: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    at = served.new()
    served.move(at, **{COST: "30"})
    assert served.new() != at, "nobody has seen that page go"
    monkeypatch.setattr(served.desk.tabs[at.split("/")[2]], "_was_seen", True)
    assert served.new() == at


def test_a_fault_of_ours_is_told_and_no_search_for_ever(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> str:
        raise ZeroDivisionError("of all things")

    monkeypatch.setattr(tab, "Worker", Here)
    monkeypatch.setattr(tab.Tab, "parts", broken)
    made = Served(file)
    with made.client:
        there = made.desk._first
        assert there is not None
        while not there.session.fault:
            made.client.get("/nothing")
        assert "ZeroDivisionError: of all things" in there.session.fault
