"""Ready-made ways out on the page: a border, a backdrop, a part of a group."""

from __future__ import annotations

import io
import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest
from PIL import Image

from cropper._resources import shipped
from cropper.destination.destination import Surround
from cropper.destination.presets import load_presets
from cropper.job.asked import Asked
from cropper.job.running import run_plan
from cropper.proposal.proposal import Answer, Proposal
from tests.browser.conftest import Server, Visit, soon

PAIR = "fernhollow_d_pair"
STRIP, ROUND = "page-header", "avatar"
PRESSED = '#open-card .choices li:nth-child({}) button[aria-pressed="true"]'


@pytest.fixture(scope="module")
def pair_planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two people for a strip that is too low for both, and for a round frame."""
    home = tmp_path_factory.mktemp("pair")
    master = home / f"{PAIR}.jpg"
    master.write_bytes((shipped("demo_images") / master.name).read_bytes())
    asked = Asked(files=(master,), destinations=load_presets().choose([STRIP, ROUND]))
    run_plan(home / "job", asked, now=datetime.now(UTC))
    return home


@pytest.fixture
def job(pair_planned: Path, tmp_path: Path) -> Path:
    shutil.copytree(pair_planned, tmp_path / "home")
    return tmp_path / "home" / "job"


def answer_of(server: Server, destination: str) -> Answer:
    master = server.plan().master(PAIR)
    assert master is not None
    answer = master.answer(destination)
    assert answer is not None
    return answer


def chosen(server: Server, destination: str) -> Proposal:
    master = server.plan().master(PAIR)
    assert master is not None
    found = master.chosen(destination)
    assert found is not None
    return found


def place_of(server: Server, fill: Surround) -> int:
    """The number that the page shows beside the first proposal with this fill."""
    proposals = answer_of(server, STRIP).proposals
    return next(at for at, one in enumerate(proposals, 1) if one.fill is fill)


def test_each_way_out_stands_in_the_list_with_its_kind_and_its_picture(
    visit: Visit, server: Server
) -> None:
    page = visit.look(PAIR, STRIP)
    proposals = answer_of(server, STRIP).proposals

    shown = page.locator("#open-card .choices li")
    assert shown.count() == len(proposals)
    for at, one in enumerate(proposals):
        assert one.kind in shown.nth(at).inner_text()
        filled = 0 if one.fill is Surround.NOTHING else 2
        assert shown.nth(at).locator("rect.fill").count() == filled


def test_a_border_is_chosen_by_its_number_and_a_backdrop_by_a_click_and_both_last(
    visit: Visit, server: Server
) -> None:
    page = visit.look(PAIR, STRIP)
    border, backdrop = (place_of(server, one) for one in (Surround.BORDER, Surround.BACKDROP))

    page.keyboard.press(str(border))
    page.wait_for_selector(PRESSED.format(border))
    assert chosen(server, STRIP).fill is Surround.BORDER
    page.reload()
    page.wait_for_selector(PRESSED.format(border))
    assert page.locator("#result rect.fill").count() == 2
    finished = page.request.get(f"{visit.base}/finished/{PAIR}/{STRIP}")
    assert finished.status == 200
    with Image.open(io.BytesIO(finished.body())) as file:
        assert file.getpixel((2, 2)) == (255, 255, 255)  # the border, white

    page.click(f"#open-card .choices li:nth-child({backdrop}) button")
    page.wait_for_selector(PRESSED.format(backdrop))
    assert chosen(server, STRIP).fill is Surround.BACKDROP
    page.reload()
    page.wait_for_selector(PRESSED.format(backdrop))


def test_a_part_of_the_group_is_chosen_like_any_crop(visit: Visit, server: Server) -> None:
    page = visit.look(PAIR, ROUND)
    proposals = answer_of(server, ROUND).proposals
    part = next(at for at, one in enumerate(proposals, 1) if one.leaves_out)

    page.keyboard.press(str(part))
    page.wait_for_selector(PRESSED.format(part))

    assert chosen(server, ROUND) == proposals[part - 1]
    assert "1 of 2 people" in page.inner_text("#open-card")
    assert "eaves out one person" in page.inner_text("#open-card .verdict")


def test_a_filled_crop_is_seen_whole_and_stays_where_it_is(visit: Visit, server: Server) -> None:
    page = visit.look(PAIR, STRIP)
    at = place_of(server, Surround.BACKDROP)
    page.keyboard.press(str(at))
    page.wait_for_selector(PRESSED.format(at))
    before = chosen(server, STRIP).crop.box
    assert before.x0 < 0
    words = page.inner_text("#open-card")
    assert f"{-before.x0} px left" in words
    assert "is not moved by hand on this page" in words
    x, _, wide, _ = (float(one) for one in (page.get_attribute("#stage", "viewBox") or "").split())
    assert x <= before.x0
    assert x + wide >= before.x1
    assert page.locator("#stage rect.fill").count() == 2
    assert page.locator("#stage .grip").count() == 0
    page.focus("#stage")
    for key in ("ArrowRight", "+", "."):
        page.keyboard.press(key)
    page.click("button:has-text('Approve')")
    visit.saved()
    soon(page, lambda: page.locator("#undo").is_enabled(), wanted=True)
    page.click("#undo")
    soon(page, lambda: page.locator("#redo").is_enabled(), wanted=True)
    assert chosen(server, STRIP).crop.box == before
