"""The review page's server, spoken to as the page does: what it shows, saves, refuses, forgets."""

from __future__ import annotations

import asyncio
import io
import json
import shutil
import socket
import time
from collections.abc import Coroutine, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from threading import Thread
from typing import Any, Self, TypeVar

import httpx
import numpy as np
import pytest
from PIL import Image

from cropper.destination.presets import load_presets
from cropper.job.asked import Asked
from cropper.job.plan import Plan, Word
from cropper.job.running import run_plan
from cropper.job.store import DELIVERABLES, JobFolder
from cropper.job.wording import read_words
from cropper.publication.outlets import Outlet, OutletKind
from cropper.publication.runs import Run as RecordedRun
from cropper.publication.spans import Span
from cropper.record import Stamp, open_record
from cropper.review.app import application
from cropper.review.cabinet import Cabinet
from cropper.review.desk import Desk
from cropper.review.guard import MOST_BODY_BYTES, Keys
from tests.integration.conftest import DrawnLooker, Run

HOST = "127.0.0.1:8123"
Answered = TypeVar("Answered")
DESTINATIONS = "story,tall-post,avatar,print-8x10,page-header"


class Client:
    """Requests to the application in this process, one after another, with a jar of cookies.

    Its event loop has a thread of its own: the browser tests keep one running in the main thread.
    """

    def __init__(self, app: Any, *, follow_redirects: bool = True) -> None:
        self._loop = asyncio.new_event_loop()
        self._thread = Thread(target=self._loop.run_forever)
        self._client = httpx.AsyncClient(
            transport=httpx.ASGITransport(app=app, raise_app_exceptions=False),
            base_url=f"http://{HOST}",
            follow_redirects=follow_redirects,
        )
        self.cookies = self._client.cookies

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._wait(self._client.aclose())
        self._wait(self._loop.shutdown_default_executor())
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join()
        self._loop.close()

    def _wait(self, doing: Coroutine[Any, Any, Answered]) -> Answered:
        return asyncio.run_coroutine_threadsafe(doing, self._loop).result(60)

    def request(self, method: str, path: str, **more: Any) -> httpx.Response:
        return self._wait(self._client.request(method, path, **more))

    def get(self, path: str, **more: Any) -> httpx.Response:
        return self.request("GET", path, **more)

    def post(self, path: str, **more: Any) -> httpx.Response:
        return self.request("POST", path, **more)


@pytest.fixture(scope="module")
def planned_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two rivals and a picture in which nobody is found, planned once for all tests."""
    home = tmp_path_factory.mktemp("review")
    rivals = (_drawn(home / "roll-neck.jpg", 1, (1600, 2000)), _drawn(home / "shawl.jpg", 2))
    destinations = load_presets().choose(DESTINATIONS.split(","))
    looker, now = DrawnLooker(), datetime.now(UTC)
    asked = Asked(files=rivals, destinations=destinations)
    run_plan(home / "job", asked, now=now, set_name="knit", looker=looker)
    asked = Asked(files=(_drawn(home / "nobody.jpg", 3),), destinations=destinations)
    run_plan(home / "job", asked, now=now, looker=looker)
    return home


def _drawn(path: Path, seed: int, size: tuple[int, int] = (2000, 2000)) -> Path:
    width, height = size
    grain = np.random.default_rng(seed).integers(0, 40, (height, width, 3), dtype=np.uint8)
    Image.fromarray(grain + 90).save(path, quality=90)
    return path


@pytest.fixture
def job(planned_once: Path, looker: DrawnLooker, tmp_path: Path) -> Path:
    """A copy of the planned job, to be changed at will."""
    del looker
    home = tmp_path / "home"
    shutil.copytree(planned_once, home)
    return home / "job"


class Page:
    """A browser's side of the talk: its cookie, and the revision that it shows."""

    def __init__(self, client: Client, job: Path, keys: Keys) -> None:
        self.client, self.job, self.keys, self.revision = client, job, keys, ""

    def get(self, path: str) -> Any:
        answer = self.client.get(path)
        assert answer.status_code == 200, answer.text
        return answer.json()

    def post(self, path: str, body: object, **headers: str) -> Any:
        return self.client.post(path, json=body, headers={"origin": f"http://{HOST}"} | headers)

    def do(self, path: str, **body: object) -> dict[str, Any]:
        """A deed on the revision shown."""
        self.revision = self.revision or self.get("/api/state")["revision"]
        answer = self.post(path, {"revision": self.revision, **body})
        assert answer.status_code == 200, answer.text
        told: dict[str, Any] = answer.json()
        self.revision = told["revision"]
        return told

    def plan(self) -> Any:
        return JobFolder(self.job).must_read()


@pytest.fixture
def page(job: Path) -> Iterator[Page]:
    keys = Keys()
    app = application(Desk(job), Cabinet(job), keys, hosts=frozenset({HOST}), port=8123)
    with Client(app) as client:
        client.get(f"/open?key={keys.key}")
        yield Page(client, job, keys)


def frame(*box: float, deg: float = 0.0, anchor: str = "centre") -> dict[str, object]:
    return {"box": list(box), "deg": deg, "anchor": anchor}


TALL = {"version": "roll-neck", "destination": "tall-post"}


# ---- opening and looking


def test_what_the_record_says_stands_beside_each_deliverable(page: Page) -> None:
    assert page.get("/api/runs/shawl") == {"runs": {}, "said": ""}
    (page.job / "outlets.toml").write_text(
        '[outlets.shop]\nkind = "placed"\naudience = "buyers"\n'
        '[destinations]\npage-header = "shop"\n'
    )
    start = datetime(2026, 3, 1, tzinfo=UTC)
    with open_record(str(page.job.parent / "record.sqlite")) as record:
        stamp = Stamp(at=start)
        shop = Outlet(name="shop", kind=OutletKind.PLACED, audience=frozenset({"buyers"}))
        record.keep_outlets([shop], stamp)
        run = {"piece": "", "set": "knit", "outlet": "shop", "destination": "page-header"}
        record.record_run(
            RecordedRun(id="r", version="roll-neck", span=Span(start), **run),  # type: ignore[arg-type]
            stamp,
        )
    (mine,) = page.get("/api/runs/roll-neck")["runs"]["page-header"]
    assert mine == {"sentence": "At shop from 1 March 2026 on: live.", "clashes": []}
    (rival,) = page.get("/api/runs/shawl")["runs"]["page-header"]
    assert rival["sentence"].startswith("Not at shop now.")
    assert "Its rival 'roll-neck' is running at 'shop'" in rival["clashes"][0]


def test_the_key_is_exchanged_once_for_a_strict_cookie_and_leaves_the_address(job: Path) -> None:
    keys = Keys()
    app = application(Desk(job), Cabinet(job), keys, hosts=frozenset({HOST}), port=8123)
    key = keys.key
    with Client(app, follow_redirects=False) as first:
        answer = first.get(f"/open?key={key}")
        assert (answer.status_code, answer.headers["location"]) == (303, "/")
        cookie = answer.headers["set-cookie"].lower()
        assert "httponly" in cookie
        assert "samesite=strict" in cookie
        assert key not in cookie
        assert first.get("/").status_code == 200
    with Client(app) as second:
        assert second.get(f"/open?key={key}").status_code == 403


@pytest.mark.parametrize("path", ["/", "/look/roll-neck", "/set/knit", "/deliver"])
def test_every_page_is_there_and_holds_no_script_or_style_of_its_own(page: Page, path: str) -> None:
    answer = page.client.get(path)

    assert answer.status_code == 200
    policy = answer.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "style=" not in answer.text
    assert "onclick" not in answer.text
    assert answer.text.count("<script") == answer.text.count('<script type="module" src=')
    assert answer.headers["cache-control"] == "no-store"


def test_a_preview_is_made_once_of_the_content_and_carries_no_metadata(page: Page) -> None:
    address = f"/preview/roll-neck/{_tag(page)}/960"
    first = page.client.get(address)
    (kept,) = [one for one in (page.job / "review").iterdir() if one.name.endswith("-960.jpg")]
    made_at = kept.stat().st_mtime_ns

    assert first.headers["content-type"] == "image/jpeg"
    assert b"Exif" not in first.content
    assert page.client.get(address).content == first.content
    assert kept.stat().st_mtime_ns == made_at
    assert page.client.get(address.replace("/960", "/961")).status_code == 404


def _tag(page: Page) -> str:
    html: str = page.client.get("/look/roll-neck").text
    return html.partition('data-tag="')[2].partition('"')[0]


def test_each_destination_is_told_as_it_will_appear(page: Page) -> None:
    cards = {one["name"]: one for one in page.get("/api/master/roll-neck")["master"]["cards"]}

    assert cards["avatar"]["chosen"]["round"]
    assert any(mark["layer"] == "covered" for mark in cards["story"]["chosen"]["marks"])
    assert cards["print-8x10"]["chosen"]["page_mm"] is not None
    header = page.get("/api/master/shawl")["master"]["cards"][-1]
    assert header["name"] == "page-header"
    assert header["chosen"] is None or len(header["chosen"]["live"]) == 2


# ---- deeds


def test_measuring_answers_by_the_rules_and_changes_nothing(page: Page) -> None:
    before = (page.job / "plan.json").read_bytes()
    box = page.get("/api/master/roll-neck")["master"]["cards"][1]["chosen"]["box"]
    higher = [box[0], box[1] - 20, box[2], box[3] - 20]

    answer = page.post("/api/measure", {**TALL, "frame": frame(*higher)})

    crop = answer.json()["crop"]
    assert crop["verdict"] in {"holds", "bends", "breaks", "uncertain"}
    assert all(rule["sentence"] for rule in crop["rules"])
    assert (page.job / "plan.json").read_bytes() == before


def test_a_drawn_crop_is_saved_at_once_as_the_hands_and_survives_a_later_plan(
    page: Page, run: Run
) -> None:
    told = page.do("/api/adjust", **TALL, frame=frame(200, 150, 1400, 1650), gesture="one")

    assert told["card"]["choice"]["by_hand"]
    choice = page.plan().master("roll-neck").choices["tall-post"]
    assert choice.state == "adjusted"
    assert choice.hand.proposed_by == "photographer"
    run("plan", page.job.parent / "roll-neck.jpg", "--for", DESTINATIONS, "--job", page.job)
    assert page.plan().master("roll-neck").choices["tall-post"] == choice


def test_a_master_without_a_face_is_cropped_by_hand_like_any_other(page: Page) -> None:
    faceless = {"version": "nobody", "destination": "tall-post"}
    drawn = frame(300, 100, 1740, 1900)

    tried = page.post("/api/measure", {**faceless, "frame": drawn}).json()["crop"]
    card = page.do("/api/adjust", **faceless, frame=drawn)["card"]

    assert tried["box"] == card["chosen"]["box"] == [300, 100, 1740, 1900]
    assert card["verdict"] == "uncertain"
    assert card["choice"]["by_hand"]
    assert "--eyes" not in str(card)  # words of the command line do not help here
    moved = page.do("/api/many", items=[faceless], shift={"up": 0.05})
    assert moved["passed"] == []
    assert page.plan().master("nobody").chosen("tall-post").crop.box.y0 == 190
    page.do("/api/say", version="nobody", destinations=["tall-post"], word="approved")
    assert page.plan().master("nobody").approvals["tall-post"].word is Word.APPROVED


def test_a_frozen_crop_changes_only_after_it_was_let_go(page: Page) -> None:
    frozen = page.do("/api/freeze", **TALL, frozen=True)["card"]
    assert frozen["frozen"]
    assert frozen["fixed_frame"]
    before = page.plan().master("roll-neck").chosen("tall-post")

    for path, more in (
        ("/api/choose", {"index": 0}),
        ("/api/adjust", {"frame": frame(0, 0, 800, 1000)}),
    ):
        answer = page.post(path, {"revision": page.revision, **TALL, **more})
        assert answer.status_code == 400
        assert "frozen" in answer.text
    passed = page.do("/api/many", items=[TALL], shift={"closer": 0.1})["passed"]
    assert ["frozen" in one for one in passed] == [True]
    assert page.plan().master("roll-neck").chosen("tall-post") == before

    assert not page.do("/api/freeze", **TALL, frozen=False)["card"]["choice"]["by_hand"]
    page.do("/api/adjust", **TALL, frame=frame(0, 0, 800, 1000))
    assert page.plan().master("roll-neck").chosen("tall-post") != before


def test_straightening_is_measured_and_kept(page: Page) -> None:
    page.do("/api/adjust", **TALL, frame=frame(400, 400, 1200, 1400, deg=4.5))

    crop = page.plan().master("roll-neck").chosen("tall-post").crop
    assert crop.straighten_deg == 4.5


def test_undo_and_redo_go_through_every_kind_of_deed(page: Page) -> None:
    states = [page.plan()]
    page.do("/api/adjust", **TALL, frame=frame(200, 150, 1400, 1650))
    states.append(page.plan())
    page.do("/api/say", version="roll-neck", destinations=["tall-post"], word="held", note="hm")
    states.append(page.plan())
    page.do("/api/mark", version="nobody", marks={"eyes": [[930, 720], [1070, 720]]})
    states.append(page.plan())
    page.do("/api/fix", set_name="knit", destination="story", version="shawl")
    states.append(page.plan())

    for state in reversed(states[:-1]):
        page.do("/api/undo")
        assert _settled(page.plan()) == _settled(state)
    assert page.do("/api/undo")["step"] is None
    for state in states[1:]:
        page.do("/api/redo")
        assert _settled(page.plan()) == _settled(state)


def _settled(plan: Plan) -> Plan:
    """The plan but for what only says whether a set must be worked out again."""
    return replace(plan, sets=tuple(replace(one, basis="") for one in plan.sets))


def test_the_many_saves_of_one_movement_are_one_step_back(page: Page) -> None:
    before = page.plan()
    for shift in range(3):
        box = (200 + shift, 150, 1400 + shift, 1650)
        page.do("/api/adjust", **TALL, frame=frame(*box), gesture="drag")

    page.do("/api/undo")

    assert _settled(page.plan()) == _settled(before)


def test_undo_is_of_one_master_and_outlasts_a_restart_and_a_command(page: Page, run: Run) -> None:
    box = page.plan().master("shawl").chosen("avatar").crop
    page.do("/api/choose", version="shawl", destination="avatar", index=1)
    page.do("/api/adjust", **TALL, frame=frame(200, 150, 1400, 1650))
    run("plan", page.job.parent / "roll-neck.jpg", "--for", DESTINATIONS, "--job", page.job)

    with _opened_again(page) as again:
        assert again.get("/api/state?version=nobody")["undo"] is None
        told = again.do("/api/undo", version="shawl")
        assert told["step"]["version"] == "shawl"
        assert again.plan().master("shawl").chosen("avatar").crop == box
        again.do("/api/redo", version="shawl")
        assert again.plan().master("shawl").choices["avatar"].index == 1


@contextmanager
def _opened_again(page: Page) -> Iterator[Page]:
    """The same job after a restart of its page."""
    keys = Keys()
    app = application(Desk(page.job), Cabinet(page.job), keys, hosts=frozenset({HOST}), port=8123)
    with Client(app) as client:
        client.get(f"/open?key={keys.key}")
        yield Page(client, page.job, keys)


def test_what_a_command_changed_since_is_not_undone_and_earlier_steps_are(page: Page) -> None:
    page.do("/api/say", version="shawl", destinations=["avatar"], word="held")
    page.do("/api/say", version="shawl", destinations=["story"], word="approved")
    folder = JobFolder(page.job)
    plan = folder.must_read()
    shawl = plan.master("shawl")
    assert shawl is not None
    with folder.held():
        folder.write(
            plan.with_master(
                replace(
                    shawl,
                    approvals={
                        **shawl.approvals,
                        "story": replace(shawl.approvals["story"], note="by a command"),
                    },
                )
            )
        )
    page.revision = ""

    assert page.do("/api/undo", version="shawl")["step"]["said"] == "Undone: held: avatar"
    assert page.do("/api/undo", version="shawl")["step"] is None
    assert page.plan().master("shawl").approvals["story"].note == "by a command"


def test_a_note_without_a_word_is_kept_and_goes_with_the_word_when_it_comes(page: Page) -> None:
    page.do("/api/note", **TALL, note=" warmer ")
    assert page.plan().master("roll-neck").notes == {"tall-post": "warmer"}
    card = page.get("/api/master/roll-neck")["master"]["cards"][1]
    assert (card["note"], card["word"]) == ("warmer", None)

    page.do("/api/say", version="roll-neck", destinations=["tall-post"], word="held")
    assert page.plan().master("roll-neck").approvals["tall-post"].note == "warmer"
    page.do("/api/note", **TALL, note="warmer, softer")
    page.do("/api/say", version="roll-neck", destinations=["tall-post"], word=None)

    assert page.plan().master("roll-neck").notes == {"tall-post": "warmer, softer"}
    assert page.plan().master("roll-neck").approvals == {}


def test_many_crops_are_approved_moved_and_chosen_together_and_undone_in_one_step(
    page: Page,
) -> None:
    before, pair = page.plan(), ("roll-neck", "shawl")
    boxes = {one: before.master(one).chosen("avatar").crop.box for one in pair}
    items = [{"version": one, "destination": "avatar"} for one in (*pair, "nobody")]
    assert page.do("/api/many", items=items, word="approved")["passed"] == []
    page.do("/api/undo")
    assert _settled(page.plan()) == _settled(before)

    told = page.do("/api/many", items=items, shift={"up": 0.03})
    assert told["passed"] == []
    for version, was in boxes.items():
        master = page.plan().master(version)
        now = master.chosen("avatar").crop.box
        assert now.size == was.size
        assert now.y0 - was.y0 == min(round(0.03 * was.height), master.height - was.y1)
    told = page.do("/api/many", items=items, index=1)
    assert [one.split(":")[0] for one in told["passed"]] == ["nobody for avatar"]
    assert page.plan().master("shawl").choices["avatar"].index == 1
    page.do("/api/undo")
    page.do("/api/undo")
    assert _settled(page.plan()) == _settled(before)
    answer = page.post("/api/many", {"revision": page.revision, "items": items})
    assert answer.status_code == 400


def test_the_next_crop_that_needs_a_look_is_told_and_a_word_takes_it_off_the_way(
    page: Page,
) -> None:
    first = page.get("/api/next")
    assert first["place"] == 0
    assert first["of"] == first["crops"]  # what the set gives to a rival waits for nobody
    one = first["next"]
    here = f"version={one['version']}&at={one['destination']}&key={one['key']}"
    second = page.get(f"/api/next?{here}")
    assert second["place"] == 1
    page.do("/api/say", version=one["version"], destinations=[one["destination"]], word="approved")
    third = page.get(f"/api/next?{here}")

    assert third["next"] == second["next"]
    assert third["of"] == first["of"] - 1
    assert page.get(f"/api/next?{here}&state=approved")["of"] == 1
    assert page.get("/api/next?destination=avatar&order=master")["next"]["destination"] == "avatar"
    assert page.get("/api/next?find=no-such-thing")["next"] is None
    assert page.client.get("/api/next?order=by-chance").status_code == 400


def test_a_crown_below_the_eyes_is_refused_in_words(page: Page) -> None:
    (person,) = page.plan().master("roll-neck").finding.principals
    below = [person.chin.at.x, person.chin.at.y + 10]
    revision = page.get("/api/state")["revision"]
    marks = {"version": "roll-neck", "marks": {"crown": below}, "revision": revision}

    answer = page.post("/api/mark", marks)

    assert answer.status_code == 400
    assert "crown" in answer.json()["error"]


def test_a_crop_that_is_drawn_tiny_becomes_one_that_shows_somebody(page: Page) -> None:
    page.do("/api/adjust", **TALL, frame=frame(400, 400, 413, 416))

    assert page.plan().master("roll-neck").chosen("tall-post").crop.box.width >= 64


def test_words_are_kept_in_the_job_s_own_file_with_its_comments(page: Page) -> None:
    (page.job / "words.toml").write_text('# mine\nheadline = "Wool"  # stays\n')
    told = page.get("/api/master/shawl")["master"]["words"]
    assert told["shared"]["headline"] == "Wool"
    assert told["missing"] == ["caption", "alt text"]

    wanted = {"version": "shawl", "headline": "", "caption": "Two\nlines", "alt_text": "A shawl"}
    answer = page.post("/api/words", wanted)

    assert answer.json()["words"]["missing"] == []
    text = (page.job / "words.toml").read_text()
    assert '# mine\nheadline = "Wool"  # stays' in text
    assert read_words(page.job).told[-1].alt_text == "A shawl"
    assert page.post("/api/words", {**wanted, "version": "nobody-knows"}).status_code == 400


def test_the_finished_file_is_shown_as_the_export_would_write_it(page: Page) -> None:
    shown = page.client.get("/finished/roll-neck/tall-post")
    facts = page.get("/api/finished/roll-neck/tall-post")
    page.do("/api/say", version="roll-neck", destinations=["tall-post"], word="approved")
    _exported(page, approved_only=True, everything=True)
    (written,) = (page.job / DELIVERABLES).glob("*tall-post*.jpg")
    with Image.open(written) as file, Image.open(io.BytesIO(shown.content)) as before:
        assert file.size == before.size == (facts["width"], facts["height"])
        difference = np.abs(np.asarray(file, int) - np.asarray(before, int))
    assert difference.max() == 0
    assert page.client.get("/finished/nobody/banner").status_code == 400


def test_a_written_file_is_opened_with_the_words_that_it_carries(page: Page) -> None:
    words = {"version": "roll-neck", "headline": "", "caption": "", "alt_text": "A roll-neck"}
    page.post("/api/words", words)
    page.do("/api/say", version="roll-neck", destinations=["tall-post"], word="approved")

    (listed,) = _exported(page, approved_only=True, everything=True)["told"]["listed"]

    assert listed["alt"] == "A roll-neck"
    shown = page.client.get(listed["address"])
    assert shown.headers["content-type"] == "image/jpeg"
    assert shown.content == (page.job / DELIVERABLES / listed["name"]).read_bytes()
    for other in ("/file/manifest.json", "/file/..%2Fplan.json", "/file/nothing.jpg"):
        assert page.client.get(other).status_code == 400


def test_a_piece_of_the_master_is_shown_at_its_own_pixels(page: Page) -> None:
    answer = page.client.get(f"/piece/roll-neck/{_tag(page)}/1/0")
    with Image.open(io.BytesIO(answer.content)) as piece:
        assert piece.size == (1600 - 1024, 1024)
    assert page.client.get(f"/piece/roll-neck/{_tag(page)}/9/0").status_code == 400


def test_who_follows_an_old_link_gets_a_page_and_no_json(page: Page) -> None:
    answer = page.client.get("/look/was-here-once", headers={"accept": "text/html"})

    assert answer.status_code == 400
    assert answer.headers["content-type"].startswith("text/html")
    assert "no version &#39;was-here-once&#39;" in answer.text


def test_eyes_placed_by_hand_bring_verdicts_where_nobody_was_found(page: Page) -> None:
    told = page.get("/api/master/nobody")["master"]
    assert told["problem"]
    assert verdicts(told) == {"uncertain"}

    marked = page.do("/api/mark", version="nobody", marks={"eyes": [[930, 720], [1070, 720]]})

    assert marked["master"]["problem"] is None
    assert "holds" in verdicts(marked["master"])
    back = page.do("/api/mark", version="nobody", marks={})["master"]
    assert back["problem"]
    assert verdicts(back) == {"uncertain"}


def verdicts(master: dict[str, Any]) -> set[str]:
    return {card["proposals"][0]["verdict"] for card in master["cards"]}


def test_an_excluded_face_is_no_person_and_comes_back_when_the_mark_goes(page: Page) -> None:
    gone = page.do("/api/mark", version="roll-neck", marks={"excluded": [1]})["master"]
    assert gone["principals"] == []
    assert [one["excluded"] for one in gone["people"]] == [True]

    back = page.do("/api/mark", version="roll-neck", marks={})["master"]

    assert len(back["principals"]) == 1
    assert back["cards"][1]["choice"]["by_hand"] is False


def test_a_word_stands_only_for_the_crop_that_was_looked_at(page: Page) -> None:
    page.do(
        "/api/say", version="roll-neck", destinations=["tall-post"], word="approved", note="yes"
    )
    told = page.do("/api/adjust", **TALL, frame=frame(200, 150, 1400, 1650))

    assert told["card"]["word"]["word"] == "approved"
    assert told["card"]["word"]["stands"] is False
    assert told["card"]["word"]["note"] == "yes"


def test_fixing_who_goes_where_is_kept_by_a_later_plan(page: Page, run: Run) -> None:
    before = page.plan().sets[0].best["story"]
    other = "shawl" if before == "roll-neck" else "roll-neck"

    page.do("/api/fix", set_name="knit", destination="story", version=other)

    assert page.plan().sets[0].best["story"] == other
    run("plan", "--for", "story", "--job", page.job)
    assert page.plan().sets[0].best["story"] == other


# ---- export and sheet


def _exported(page: Page, **wish: bool) -> dict[str, Any]:
    assert page.post("/api/export", wish).status_code == 202
    for _ in range(600):
        progress: dict[str, Any] = page.get("/api/export")
        if not progress["running"]:
            return progress
        time.sleep(0.05)
    pytest.fail("the export did not come to its end")


def test_only_what_is_approved_is_exported_and_the_rest_is_told_why(page: Page) -> None:
    given = page.plan().sets[0].best["tall-post"]
    page.do("/api/say", version=given, destinations=["tall-post"], word="approved")
    page.do("/api/say", version=given, destinations=["avatar"], word="held", note="too tight")

    progress = _exported(page, approved_only=True)

    assert progress["problem"] == ""
    assert progress["told"]["files"] == 1
    assert len(list((page.job / DELIVERABLES).glob("*tall-post*"))) == 1
    whys = {
        (one["version"], one["destination"]): one["reason"]
        for one in progress["told"]["not_delivered"]
    }
    if page.plan().sets[0].best["avatar"] == given:
        assert whys[given, "avatar"] == "You hold it back. Note: too tight"
    assert "not approved" in whys[given, "story"] or "goes to" in whys[given, "story"]


def test_what_was_refused_never_leaves(page: Page) -> None:
    given = page.plan().sets[0].best["tall-post"]
    page.do("/api/say", version=given, destinations=["tall-post"], word="refused", note="soft")

    progress = _exported(page, approved_only=False, everything=True)

    assert not list((page.job / DELIVERABLES).glob(f"{given}_tall-post*"))
    assert "You refused it. Note: soft" in json.dumps(progress)


def test_the_page_may_still_save_while_it_exports(page: Page) -> None:
    assert page.post("/api/export", {"approved_only": False}).status_code == 202
    page.do("/api/adjust", **TALL, frame=frame(200, 150, 1400, 1650))
    assert page.plan().master("roll-neck").choices["tall-post"].by_hand
    while page.get("/api/export")["running"]:
        time.sleep(0.05)


def test_the_clients_sheet_shows_approved_crops_and_is_one_file_without_script(page: Page) -> None:
    assert page.post("/api/client-sheet", {}).status_code == 400
    page.do("/api/say", version="roll-neck", destinations=["tall-post"], word="approved")

    made = page.post("/api/client-sheet", {"approved_only": True}).json()

    sheet = page.client.get(made["address"])
    assert Path(made["file"]).read_bytes() == sheet.content
    assert "Tall post" in sheet.text
    assert "Round avatar" not in sheet.text
    assert "<script" not in sheet.text
    assert "attachment" in sheet.headers["content-disposition"]


def test_a_master_that_was_changed_since_is_not_shown_for_what_it_was(page: Page) -> None:
    tag = _tag(page)
    (page.job.parent / "roll-neck.jpg").write_bytes((page.job.parent / "shawl.jpg").read_bytes())

    answer = page.client.get(f"/preview/roll-neck/{tag}/960")

    assert answer.status_code == 400
    assert "has changed since it was planned" in answer.json()["error"]


def test_the_command_says_what_is_missing_and_listens_at_one_address_only(
    run: Run, job: Path, tmp_path: Path
) -> None:
    nothing = run("review", "--job", tmp_path / "nothing", "--no-browser")
    assert nothing.exit_code == 1
    assert "holds no plan" in nothing.output

    everywhere = run("review", "--job", job, "--host", "0.0.0.0", "--no-browser")  # noqa: S104
    assert everywhere.exit_code == 2
    assert "Warning" in everywhere.output
    assert "not at all of them" in everywhere.output

    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        taken = run("review", "--job", job, "--port", port, "--no-browser")
    assert taken.exit_code == 2
    assert "cannot listen" in taken.output


# ---- a second tab, a command, a killed server


def test_a_stale_tab_is_told_and_overwrites_nothing(page: Page) -> None:
    stale = page.get("/api/state")["revision"]
    page.do("/api/adjust", **TALL, frame=frame(200, 150, 1400, 1650))
    newest = (page.job / "plan.json").read_bytes()

    answer = page.post("/api/choose", {"revision": stale, **TALL, "index": 0})

    assert answer.status_code == 409
    assert answer.json()["stale"]
    assert "another tab" in answer.json()["error"]
    assert (page.job / "plan.json").read_bytes() == newest


def test_a_command_in_between_makes_the_page_stale_too(page: Page, run: Run) -> None:
    stale = page.get("/api/state")["revision"]
    picture = page.job.parent / "roll-neck.jpg"
    run("plan", picture, "--for", DESTINATIONS, "--choose", "avatar=2", "--job", page.job)

    answer = page.post("/api/undo", {"revision": stale})

    assert answer.status_code == 409
    assert page.get("/api/state")["undo"] is None


def test_another_server_finds_all_that_the_first_one_was_told(page: Page) -> None:
    page.do("/api/adjust", **TALL, frame=frame(200, 150, 1400, 1650))
    page.do("/api/say", version="shawl", destinations=["avatar"], word="approved", note="go")

    again = Desk(page.job).look()

    assert again.plan == page.plan()
    assert again.revision == page.revision
    approval = again.plan.masters[1].approvals["avatar"]
    assert (approval.word, approval.note) == (Word.APPROVED, "go")


def test_a_folder_held_by_another_run_is_told_and_nothing_is_lost(page: Page) -> None:
    page.revision = page.get("/api/state")["revision"]
    before = (page.job / "plan.json").read_bytes()
    with JobFolder(page.job).held():
        answer = page.post("/api/choose", {"revision": page.revision, **TALL, "index": 0})

    assert answer.status_code == 400
    assert "another run" in answer.json()["error"]
    assert (page.job / "plan.json").read_bytes() == before


# ---- hostile requests


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1:9999", "localhost.evil.example:8123"])
def test_another_host_name_is_turned_away(page: Page, host: str) -> None:
    assert page.client.get("/", headers={"host": host}).status_code == 421


@pytest.mark.parametrize("origin", [None, "null", "http://evil.example", "https://127.0.0.1:8123"])
def test_a_deed_from_another_origin_is_turned_away(page: Page, origin: str | None) -> None:
    headers = {"origin": origin} if origin else {}
    body = {"revision": "x", **TALL, "index": 0}

    assert page.client.post("/api/choose", json=body, headers=headers).status_code == 403


def test_a_request_that_a_foreign_page_sends_is_turned_away(page: Page) -> None:
    answer = page.client.get("/api/job", headers={"sec-fetch-site": "cross-site"})

    assert answer.status_code == 403


def test_without_the_cookie_nothing_is_shown_not_even_the_pages_own_files(page: Page) -> None:
    page.client.cookies.clear()

    for path in ("/", "/api/job", "/static/page.css", f"/preview/roll-neck/{'0' * 18}/960"):
        assert page.client.get(path).status_code == 403
    wrong = page.client.get("/", headers={"cookie": "cropper_review_8123=guessed"})
    assert wrong.status_code == 403


@pytest.mark.parametrize("key", ["", "guess", "é"])
def test_a_guessed_key_opens_nothing(job: Path, key: str) -> None:
    keys = Keys()
    app = application(Desk(job), Cabinet(job), keys, hosts=frozenset({HOST}), port=8123)
    with Client(app) as client:
        assert client.get("/open", params={"key": key}).status_code == 403
    assert keys.key


@pytest.mark.parametrize(
    "path",
    [
        "/static/..%2fapp.py",
        "/static/%2e%2e/app.py",
        "/static//etc/passwd",
        "/static/%2fetc%2fpasswd",
        "/preview/..%2f..%2fplan.json/x/960",
        "/preview/roll-neck/..%2f..%2fplan.json/960",
        "/client-sheet/../plan.json",
        "/plan.json",
    ],
)
def test_no_path_leads_to_a_file_that_is_not_served(page: Page, path: str) -> None:
    answer = page.client.get(path)

    assert answer.status_code in {400, 404}
    assert "masters" not in answer.text
    assert "root:" not in answer.text


def test_a_link_put_in_the_place_of_the_clients_sheet_is_not_followed(page: Page) -> None:
    secret = page.job.parent / "secret.html"
    secret.write_text("not yours")
    (page.job / "client-sheet.html").symlink_to(secret)

    answer = page.client.get("/client-sheet")

    assert answer.status_code == 404
    assert "not yours" not in answer.text


@pytest.mark.parametrize(
    "path",
    ["/api/choose", "/api/adjust", "/api/freeze", "/api/mark", "/api/say", "/api/fix", "/api/undo"],
)
def test_nothing_is_changed_by_get(page: Page, path: str) -> None:
    before = (page.job / "plan.json").read_bytes()

    assert page.client.get(path).status_code == 405
    assert (page.job / "plan.json").read_bytes() == before


def test_only_small_json_is_taken(page: Page) -> None:
    origin = {"origin": f"http://{HOST}"}
    form = page.client.post("/api/undo", data={"revision": "x"}, headers=origin)
    text = page.client.post(
        "/api/undo", content="{}", headers=origin | {"content-type": "text/plain"}
    )
    large = page.post("/api/undo", {"revision": "x" * MOST_BODY_BYTES})
    put = page.client.request("PUT", "/api/undo", json={}, headers=origin)

    assert [one.status_code for one in (form, text, large, put)] == [415, 415, 413, 405]


@pytest.mark.parametrize(
    "body",
    [
        {"box": [0, 0, "NaN", 1]},
        {"box": [0, 0, 1e308, 1e308]},
        {"box": [5, 5, 5, 5]},
        {"box": [10, 10, 0, 0]},
        {"box": [0, 0, 100]},
        {"box": [0, 0, 100, 100], "deg": 720},
        {"box": [0, 0, 100, 100], "anchor": "elsewhere"},
        {"box": [0, 0, 100, 100], "more": 1},
    ],
)
def test_a_frame_that_makes_no_sense_is_refused_in_words(page: Page, body: dict[str, Any]) -> None:
    answer = page.post("/api/measure", {**TALL, "frame": body})

    assert answer.status_code == 400
    assert answer.json()["error"]


def test_names_are_text_and_never_markup(page: Page) -> None:
    answer = page.client.get("/look/%3Cimg%20onerror=x%3E")

    assert answer.status_code == 400
    assert answer.headers["content-type"] == "application/json"
    note = "<img src=x onerror=alert(1)>"
    page.do("/api/say", version="roll-neck", destinations=["avatar"], word="held", note=note)
    assert note not in page.client.get("/").text
