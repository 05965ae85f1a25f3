"""For every eye and hand: an accessibility engine on every page, wide, narrow, light and dark."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page

from tests.browser.conftest import BLURRED, VERSIONS, WAIT_MS, Server, until

FRONTAL, SHAWL = VERSIONS
PAGES = {
    "wall": "/",
    "crops": "/crops?destination=avatar",
    "look": f"/look/{SHAWL}#tall-post",
    "nobody": f"/look/{BLURRED}#tall-post",
    "set": "/set/knit",
    "deliver": "/deliver",
}
DRAWN = {"wall": ".row", "crops": ".crop", "set": "#pair svg.picture", "deliver": ".batch"}
RULES = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
}


def opened(browser: Browser, server: Server, **how: object) -> tuple[BrowserContext, Page]:
    # The engine is put into the page by the test; the page's own policy would refuse it.
    context = browser.new_context(bypass_csp=True, **how)  # type: ignore[arg-type]
    page = context.new_page()
    page.set_default_timeout(WAIT_MS)
    page.goto(server.address)
    return context, page


def go(page: Page, server: Server, name: str) -> None:
    page.goto(server.base + PAGES[name])
    page.wait_for_selector(DRAWN.get(name, "#open-card"))


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_accessibility_engine_finds_nothing_on_any_page(
    browser: Browser, server: Server, scheme: str
) -> None:
    context, page = opened(
        browser, server, viewport={"width": 1280, "height": 800}, color_scheme=scheme
    )
    found = []
    for name in PAGES:
        go(page, server, name)
        if name == "look":
            page.check('input[name="mode"][value="people"]')
            for one in page.locator("#open-card summary").all():
                one.click()
            page.click("#guides > summary")
        results = Axe().run(page, options=RULES).response
        assert len(results["passes"]) > 12, name  # it did look
        found += [
            (name, one["id"], node["target"], node.get("failureSummary", ""))
            for one in results["violations"]
            for node in one["nodes"]
        ]
    context.close()

    assert found == []


@pytest.mark.parametrize("width", [390, 640, 1024, 1280, 2560])
def test_nothing_must_be_scrolled_sideways(browser: Browser, server: Server, width: int) -> None:
    """640 css px is a window of 1280 px at 200 per cent."""
    context, page = opened(browser, server, viewport={"width": width, "height": 900})
    too_wide = []
    for name in PAGES:
        go(page, server, name)
        over = page.evaluate("document.documentElement.scrollWidth - innerWidth")
        if over > 0:
            too_wide.append((name, over))
    context.close()

    assert too_wide == []


def test_reduced_motion_moves_nothing(browser: Browser, server: Server) -> None:
    context, page = opened(browser, server, reduced_motion="reduce")
    go(page, server, "look")

    moving = page.evaluate(
        """[...document.querySelectorAll('*')].filter((one) => {
            const style = getComputedStyle(one);
            return style.animationName !== 'none' || parseFloat(style.transitionDuration) > 0
                || style.scrollBehavior === 'smooth';
        }).length"""
    )
    context.close()

    assert moving == 0


def test_whatever_has_the_focus_shows_it(browser: Browser, server: Server) -> None:
    context, page = opened(browser, server, viewport={"width": 1280, "height": 800})
    go(page, server, "look")
    hidden = []
    for _ in range(45):
        page.keyboard.press("Tab")
        shown, name = page.evaluate(
            """(() => {
                const one = document.activeElement;
                const style = getComputedStyle(one);
                const shown = style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2;
                return [shown || one === document.body, one.id || one.outerHTML.slice(0, 80)];
            })()"""
        )
        if not shown:
            hidden.append(name)
    context.close()

    assert hidden == []


def test_the_words_change_while_the_hand_moves(browser: Browser, server: Server) -> None:
    context, page = opened(browser, server, viewport={"width": 1280, "height": 800})
    go(page, server, "look")
    box = page.locator("#stage .frame").bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x - 140, y, steps=12)
    until(page, "cropperTimings.length > 3")
    until(page, "/fine|problem/.test(document.getElementById('standing').textContent)")

    words = page.inner_text("#standing")
    glyphs = page.evaluate(
        "[...document.querySelectorAll('#standing use')].map((one) => one.getAttribute('href'))"
    )
    page.mouse.up()
    context.close()

    assert "fine" in words or "problem" in words
    assert {"#g-bends", "#g-breaks"} & set(glyphs)
