"""The wall of a larger job: page by page, narrowed by state and by name, by keyboard alone."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from cropper.job.store import JobFolder
from cropper.review.leafing import ON_A_PAGE
from tests.browser.conftest import BLURRED, VERSIONS, Server, Visit, until
from tests.browser.test_everybody import RULES, opened
from tests.browser.test_walks import tab_to

MANY = 2 * ON_A_PAGE + 4
FRONTAL = VERSIONS[0]


@pytest.fixture
def job(planned_once: Path, tmp_path: Path) -> Path:
    """One portrait under many names, and at their end the one in which nobody was found."""
    home = tmp_path / "home"
    shutil.copytree(planned_once, home)
    folder = JobFolder(home / "job")
    plan = folder.must_read()
    good, blurred = plan.master(FRONTAL), plan.master(BLURRED)
    assert good is not None
    assert blurred is not None
    many = [replace(good, version=f"wool-{number:03d}") for number in range(MANY - 1)]
    with folder.held():
        folder.write(replace(plan, masters=(*many, blurred), sets=()))
    return home / "job"


def versions(page: Page) -> list[str]:
    page.wait_for_selector("#found")
    return [one.get_attribute("data-version") or "" for one in page.locator(".row").all()]


def test_the_wall_is_walked_without_the_mouse_and_its_address_remembers(visit: Visit) -> None:
    page = visit.page
    assert versions(page)[0] == BLURRED  # what waits comes first
    assert len(versions(page)) == ON_A_PAGE
    assert f"{MANY} of {MANY}" in page.inner_text("#found")

    tab_to(page, 'nav.leaves a[rel="next"]')
    page.keyboard.press("Enter")
    page.wait_for_url("**/?page=2")
    assert versions(page)[0] == f"wool-{ON_A_PAGE - 1:03d}"

    tab_to(page, 'input[name="find"]')
    page.keyboard.type("WOOL-00")
    page.keyboard.press("Enter")
    page.wait_for_url("**/?show=everything&find=WOOL-00")
    assert versions(page) == [f"wool-{number:03d}" for number in range(10)]

    page.click('.row[data-version="wool-004"] .whole')
    page.wait_for_selector("#open-card")
    page.click("text=All pictures")
    page.wait_for_url("**/?show=everything&find=WOOL-00")
    assert page.input_value('input[name="find"]') == "WOOL-00"


def test_a_word_moves_a_master_from_what_waits_to_what_is_approved(visit: Visit) -> None:
    page = visit.page
    page.goto(f"{visit.base}/?show=no-eyes")
    assert versions(page) == [BLURRED]
    page.goto(f"{visit.base}/?show=approved")
    assert versions(page) == []
    assert "None of" in page.inner_text("#found")


def test_small_pictures_are_fetched_only_where_they_can_be_seen(visit: Visit) -> None:
    page = visit.page
    until(page, "document.querySelector('.row image[href]') !== null")
    fetched = page.locator(".row:has(image[href])").count()

    assert 0 < fetched < ON_A_PAGE / 2


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_accessibility_engine_finds_nothing_on_a_narrowed_wall(
    browser: Browser, server: Server, scheme: str
) -> None:
    context, page = opened(
        browser, server, viewport={"width": 1280, "height": 800}, color_scheme=scheme
    )
    page.goto(f"{server.base}/?show=open&find=wool&page=2")
    page.wait_for_selector(".row")
    results = Axe().run(page, options=RULES).response
    sideways = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    context.close()

    assert len(results["passes"]) > 12  # it did look
    assert [one["id"] for one in results["violations"]] == []
    assert sideways <= 0


def test_files_are_told_page_by_page_and_all_approved_ones_are_counted(
    visit: Visit, server: Server
) -> None:
    page = visit.page
    page.goto(f"{visit.base}/deliver")
    page.wait_for_selector(".batch")
    assert page.locator(".batch").count() == ON_A_PAGE
    assert page.inner_text("#leaf") == "Page 1 of 3"
    page.focus("#leaf-on")
    page.keyboard.press("Enter")
    page.wait_for_selector(f'.batch[aria-label="wool-{ON_A_PAGE - 1:03d}"]')
    assert page.inner_text("#leaf") == "Page 2 of 3"
    batch = page.locator(f'.batch[aria-label="wool-{ON_A_PAGE:03d}"]')
    batch.locator("summary").click()
    batch.locator('button[aria-label^="Approve"]').first.click()
    visit.saved()

    page.select_option("#show", "some-approved")
    until(page, "document.querySelectorAll('.batch').length === 1")
    assert page.inner_text("#tally").startswith("1 of ")
    page.wait_for_selector("#leaves", state="hidden")
    master = server.plan().master(f"wool-{ON_A_PAGE:03d}")
    assert master is not None
    assert len(master.approvals) == 1
