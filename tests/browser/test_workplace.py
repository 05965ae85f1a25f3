"""The page as a place to work: how much is seen, how few keys it takes, many crops at once."""

from __future__ import annotations

import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest
from playwright.sync_api import Page

from cropper._resources import shipped
from cropper.destination.presets import load_presets
from cropper.job.approving import standing
from cropper.job.asked import Asked
from cropper.job.plan import PlannedMaster
from cropper.job.running import run_plan
from cropper.job.wording import read_words
from tests.browser.conftest import Server, Visit, settled, soon, until

ONE, OTHER = "fernhollow_c_figure_headroom", "fernhollow_f_tilted"
TWELVE = (
    "square-post,tall-post,story,wide,avatar,profile-square,page-header,link-preview,portfolio,"
    "print-8x10,print-10x15cm,print-a4"
)
MOST_KEYS, MOST_CLICKS = 25, 14
"""For twelve crops of one master, two of them to be put right."""


@pytest.fixture(scope="session")
def two_planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    home = tmp_path_factory.mktemp("two")
    files = tuple(home / f"{name}.jpg" for name in (ONE, OTHER))
    for file in files:
        file.write_bytes((shipped("demo_images") / file.name).read_bytes())
    destinations = load_presets().choose(TWELVE.split(","))
    run_plan(home / "job", Asked(files=files, destinations=destinations), now=datetime.now(UTC))
    return home


@pytest.fixture
def job(two_planned: Path, tmp_path: Path) -> Path:
    shutil.copytree(two_planned, tmp_path / "home")
    return tmp_path / "home" / "job"


def master_of(server: Server, version: str = ONE) -> PlannedMaster:
    found = server.plan().master(version)
    assert found is not None
    return found


def approved(server: Server, version: str = ONE) -> int:
    master = master_of(server, version)
    return sum(standing(master, one.destination).approved for one in master.answers)


def opened(visit: Visit, version: str = ONE, query: str = "", name: str = "square-post") -> Page:
    visit.page.goto(f"{visit.base}/look/{version}{query}#{name}")
    visit.page.wait_for_selector("#open-card")
    until(visit.page, "document.querySelector('#progress').textContent !== ''")
    return visit.page


def at(page: Page, name: str) -> None:
    page.wait_for_selector(f'#open-card[data-name="{name}"]')


def crops_of(server: Server) -> list[str]:
    master = master_of(server)
    return [one.destination for one in master.answers if master.chosen(one.destination)]


@pytest.mark.parametrize(("width", "height"), [(1440, 900), (1024, 768)])
def test_master_and_crop_fill_three_fifths_of_the_window(
    visit: Visit, width: int, height: int
) -> None:
    visit.page.set_viewport_size({"width": width, "height": height})
    page = opened(visit)
    page.wait_for_timeout(200)

    def share() -> float:
        part: float = page.evaluate(
            """(() => {
                const box = document.getElementById('work').getBoundingClientRect();
                return (box.width * box.height) / (innerWidth * innerHeight);
            })()"""
        )
        return part

    assert share() >= 0.6
    page.keyboard.press("f")
    page.wait_for_timeout(100)
    assert share() >= 0.85


def test_twelve_crops_with_two_put_right_take_few_keys(visit: Visit, server: Server) -> None:
    page = opened(visit, query="?order=master")
    keys = 0

    def press(key: str) -> None:
        nonlocal keys
        keys += 1
        page.keyboard.press(key)

    names = crops_of(server)
    assert len(names) == len(TWELVE.split(","))
    fixed = {"print-8x10": ("2",), "link-preview": ("Shift+ArrowUp", "+", "+")}
    for name, following in zip(names, (*names[1:], ""), strict=True):
        at(page, name)
        for key in fixed.get(name, ()):
            press(key)
        if name in fixed:
            visit.saved()
        press("a")
        if following:
            at(page, following)
    soon(page, lambda: approved(server), len(names))

    assert keys <= MOST_KEYS
    assert master_of(server).choices["print-8x10"].index == 1
    assert master_of(server).choices["link-preview"].hand is not None


def test_the_same_takes_few_clicks_and_all_good_ones_go_in_one(
    visit: Visit, server: Server
) -> None:
    page = opened(visit, query="?order=master")
    clicks = 0

    def click(selector: str) -> None:
        nonlocal clicks
        clicks += 1
        page.click(selector)

    names = crops_of(server)
    for name, following in zip(names, (*names[1:], ""), strict=True):
        at(page, name)
        if name in {"print-8x10", "page-header"}:
            click("#open-card .choices li:nth-child(2) button")
            page.wait_for_selector(
                '#open-card .choices li:nth-child(2) button[aria-pressed="true"]'
            )
        click('#open-card [data-word="approved"]')
        if following:
            at(page, following)
    soon(page, lambda: approved(server), len(names))
    assert clicks <= MOST_CLICKS
    page.wait_for_url(f"**/look/{OTHER}**")  # the walk goes on to the next picture by itself

    page = opened(visit, OTHER)
    page.keyboard.press("Shift+A")
    master = master_of(server, OTHER)
    good = [a.destination for a in master.answers if a.best and str(a.best.verdict) == "holds"]
    soon(page, lambda: approved(server, OTHER), len(good))


def test_skip_goes_on_and_back_comes_back_without_deciding(visit: Visit, server: Server) -> None:
    before = server.plan()
    page = opened(visit, query="?order=master")
    first, second = crops_of(server)[:2]
    at(page, first)
    page.keyboard.press("n")
    at(page, second)
    assert page.inner_text("#progress").startswith("2 of ")
    page.keyboard.press("b")
    at(page, first)

    page.click("#filters > summary")
    page.select_option("#walk-destination", "avatar")
    page.keyboard.press("Escape")
    page.keyboard.press("n")
    at(page, "avatar")
    page.keyboard.press("n")
    page.wait_for_url(f"**/look/{OTHER}**")
    at(page, "avatar")
    assert server.plan() == before


def test_after_the_last_crop_the_page_says_that_nothing_is_left(visit: Visit) -> None:
    page = opened(visit, query="?find=no-such-picture")
    page.keyboard.press("n")
    page.wait_for_selector("#notice >> text=Nothing is left to check")


def test_looking_closer_goes_to_the_master_s_own_pixels_and_back(visit: Visit) -> None:
    page = opened(visit)
    page.wait_for_selector("#stage .frame", state="attached")

    def scale() -> float:
        found: float = page.evaluate(
            "document.getElementById('stage').getScreenCTM().a * devicePixelRatio"
        )
        return found

    fitted = scale()
    page.keyboard.press("z")
    soon(page, lambda: abs(scale() - 1) < 1e-6, wanted=True)
    page.keyboard.press("PageUp")
    soon(page, lambda: scale() > 1.3, wanted=True)
    page.keyboard.press("0")
    soon(page, lambda: abs(scale() - fitted) < 1e-6, wanted=True)
    box = page.locator("#stage").bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 80, box["y"] + 80)
    page.mouse.wheel(0, -400)
    soon(page, lambda: scale() > 1.5 * fitted, wanted=True)
    seen = page.get_attribute("#stage", "viewBox")
    page.keyboard.down(" ")
    page.mouse.down()
    page.mouse.move(box["x"] + 20, box["y"] + 20, steps=4)
    page.mouse.up()
    page.keyboard.up(" ")
    soon(page, lambda: page.get_attribute("#stage", "viewBox") != seen, wanted=True)


def test_a_held_key_shows_the_crop_alone_and_without_marks(visit: Visit, server: Server) -> None:
    before = server.plan()
    page = opened(visit, name="story")
    page.keyboard.down("c")
    page.wait_for_selector("#alone .picture")
    assert page.locator("#alone .o-covered").count() == 0
    page.keyboard.up("c")
    page.wait_for_selector("#alone", state="hidden")

    assert server.plan() == before


def test_a_line_drawn_along_what_is_level_straightens(visit: Visit, server: Server) -> None:
    page = opened(visit)
    page.wait_for_selector("#stage .frame", state="attached")
    page.keyboard.press("s")
    for x, y in ((300, 400), (500, 414)):
        place = page.evaluate(
            """([x, y]) => {
                const at = new DOMPoint(x, y).matrixTransform(
                    document.getElementById('stage').getScreenCTM());
                return [at.x, at.y];
            }""",
            [x, y],
        )
        page.mouse.click(*place)

    def turned() -> float:
        chosen = master_of(server).chosen("square-post")
        assert chosen is not None
        return chosen.crop.straighten_deg

    soon(page, lambda: abs(turned() - 4.0) < 0.35, wanted=True)  # atan(14 / 200) is 4.004 degrees


def test_many_crops_are_moved_and_approved_together_with_one_undo(
    visit: Visit, server: Server
) -> None:
    page = visit.page
    page.goto(f"{visit.base}/crops?destination=avatar")
    page.wait_for_selector(".crop")
    assert page.locator(".crop").count() == len((ONE, OTHER))
    assert "head" in page.inner_text("#crops")
    before = server.plan()
    page.click("#select-all")
    page.click('[data-shift="up"]')
    visit.saved()
    soon(page, lambda: settled(server.plan()) != settled(before), wanted=True)
    moved = [master_of(server, one).choices["avatar"].hand for one in (ONE, OTHER)]
    assert all(one is not None for one in moved)
    page.click('[data-act="approved"]')
    soon(page, lambda: approved(server) + approved(server, OTHER), 2)
    page.keyboard.press("u")
    soon(page, lambda: approved(server) + approved(server, OTHER), 0)
    visit.saved()
    page.keyboard.press("u")
    soon(page, lambda: settled(server.plan()) == settled(before), wanted=True)


def test_the_finished_file_is_looked_at_before_it_is_written(visit: Visit) -> None:
    page = opened(visit, name="story")
    page.keyboard.press("x")
    page.wait_for_selector("#finished .phone .zone")
    until(page, "document.querySelector('#finished .phone img').naturalWidth === 1080")
    assert "1080 × 1920 px" in page.inner_text("#finished .facts")
    page.click("#finished >> text=100 %")
    page.wait_for_selector("#finished .full img")
    page.click("#finished >> text=Before and after")
    page.wait_for_selector("#finished .compared img")
    page.click("#finished >> text=Close")
    page.wait_for_selector("#finished", state="hidden")


def test_the_alt_text_is_written_beside_the_crop_and_is_what_is_read_out(
    visit: Visit, server: Server
) -> None:
    page = opened(visit)
    page.click("#open-card .words > summary")
    assert "alt text" in page.inner_text("#open-card .words > summary")
    page.fill('#open-card [data-field="alt_text"]', "A woman in a roll-neck looks at us.")
    page.press('#open-card [data-field="alt_text"]', "Tab")
    page.wait_for_selector("#saved >> text=Words saved")

    (told,) = [one for one in read_words(server.job).told if one.version == ONE]
    assert told.alt_text == "A woman in a roll-neck looks at us."
    label = page.get_attribute("#result .view", "aria-label")
    assert label == told.alt_text
    assert told.alt_text in (page.get_attribute("#stage", "aria-label") or "")
    assert page.get_attribute("#stage", "role") == "group"
