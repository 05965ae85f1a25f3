"""The timeline in a real browser: for everybody, and with the letters that a screen really sets."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser

from cropper.account.timeline import Timeline, timeline
from cropper.account.timeline_making import put
from cropper.publication.licences import LicenceKind
from cropper.publication.runs import RunState
from cropper.publication.spans import Span
from tests.unit.publication.test_clashes import OSLO, day, facts, licence, run

OVERLAPS = """() => {
  const boxes = [...document.querySelectorAll("svg text")].map((one) => {
    const box = one.getBoundingClientRect();
    return { said: one.textContent, left: box.left, right: box.right,
             middle: (box.top + box.bottom) / 2, high: box.height };
  });
  return boxes.flatMap((one, at) => boxes.slice(at + 1).filter((other) =>
    one.left < other.right - 1 && other.left < one.right - 1 &&
    Math.abs(one.middle - other.middle) < 0.35 * (one.high + other.high)
  ).map((other) => `${one.said} / ${other.said}`));
}"""
"""Pairs of words that lie on each other; a line's box is taller than its letters by a third."""


WORDS_TORN = """() => [...document.querySelectorAll('tbody th, tbody td')].filter((one) => {
  const range = document.createRange();
  range.selectNodeContents(one);
  const boxes = [...range.getClientRects()].filter((box) => box.width > 0);
  return one.textContent.trim().length > 6 && boxes.some((box) => box.width < 12)
    && boxes.length > 3;
}).map((one) => one.textContent)"""
"""Table fields that are set one letter a line."""


def spring() -> Timeline:
    runs = [
        run(
            f"{name} of the spring, {number}",
            outlet,
            day(2 + number % 4, 1 + 3 * number),
            day(3 + number % 4, 1 + 3 * number) if number % 3 else None,
            id=f"{outlet} {number}",
            state=RunState.PLANNED if number % 2 else RunState.LIVE,
        )
        for number, name in enumerate(("hooded-shawl", "roll-neck", "cable", "moss", "profile"))
        for outlet in ("my-pages", "mill-shop", "my-walls")
    ]
    held = licence(LicenceKind.EXCLUSIVE, day(3, 1), day(5, 1))
    kept = licence(LicenceKind.EMBARGO, day(1, 1), day(2, 27), id="embargo", outlet="")
    known = facts(*runs, licences=(held, kept))
    return timeline(known, Span(day(2, 16), day(7, 6)), now=day(4, 24), zone=OSLO, invented=True)


@pytest.mark.parametrize(("scheme", "wide"), [("light", 1280), ("dark", 390)])
def test_the_timeline_keeps_the_rules_for_everybody(
    browser: Browser, tmp_path: Path, scheme: Literal["light", "dark"], wide: int
) -> None:
    path, _ = put(spring(), tmp_path / "spring")
    page = browser.new_page(viewport={"width": wide, "height": 900}, color_scheme=scheme)
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text))
    page.goto(path.as_uri())
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    across = page.evaluate("[document.documentElement.scrollWidth, window.innerWidth]")
    assert across[0] <= across[1]
    assert page.evaluate(OVERLAPS) == []
    assert page.evaluate(WORDS_TORN) == []
    assert complaints == []
    page.close()
