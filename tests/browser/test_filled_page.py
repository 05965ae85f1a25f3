"""A crop that is filled past its master, on the page: seen whole, said in pixels, not moved."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from fractions import Fraction
from pathlib import Path

import pytest

from cropper._resources import shipped
from cropper.destination.destination import Surround
from cropper.destination.presets import load_presets
from cropper.job.asked import Asked
from cropper.job.running import run_plan
from tests.browser.conftest import Server, Visit, soon

VERSION = "fernhollow_a_frontal"


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """A tight upright portrait for a strip whose frame is filled with the backdrop."""
    master = tmp_path / f"{VERSION}.jpg"
    master.write_bytes((shipped("demo_images") / master.name).read_bytes())
    (header,) = load_presets().choose(["page-header"])
    finish = replace(header.finish, fill=Surround.BACKDROP)
    strip = replace(header, finish=finish, greatest_enlargement=Fraction(2))
    run_plan(tmp_path / "job", Asked(files=(master,), destinations=(strip,)), now=datetime.now(UTC))
    return tmp_path / "job"


def test_a_filled_crop_is_seen_whole_and_stays_where_it_is(visit: Visit, server: Server) -> None:
    page = visit.look(VERSION, "page-header")

    def crop() -> list[int]:
        master = server.plan().master(VERSION)
        assert master is not None
        chosen = master.chosen("page-header")
        assert chosen is not None
        box = chosen.crop.box
        return [box.x0, box.y0, box.x1, box.y1]

    before = crop()
    assert before[0] < 0
    words = page.inner_text("#open-card")
    assert f"{-before[0]} px left" in words
    assert "is not moved by hand on this page" in words
    x, _, wide, _ = (float(one) for one in (page.get_attribute("#stage", "viewBox") or "").split())
    assert x <= before[0]
    assert x + wide >= before[2]
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
    assert crop() == before
