"""The report in a real browser: for everybody, in light and dark, narrow and wide."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Literal

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser

from cropper.account.report import Portrait, Ran, Report, asked
from cropper.account.report_making import put
from cropper.publication.responses import Count, Design, Intent, Measure, Question, Responses
from cropper.publication.tags import Sightings

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)
VERSIONS = ("hooded-shawl", "roll-neck", "cable-vest")


def report() -> Report:
    questions = tuple(
        Question(
            name=name,
            set="knitwear",
            versions=VERSIONS,
            design=Design.ONE_POLL,
            declared_at=NOON,
            intents=(Intent(version="roll-neck", tags=("eyes",), noted_at=NOON),),
        )
        for name in ("which-cover", "which-print")
    )
    counts = tuple(
        Count(
            question=question.name,
            version=version,
            outlet=outlet,
            measure=Measure.VOTES,
            number=20 + 9 * at,
            at=NOON + timedelta(days=1),
        )
        for question in questions
        for outlet in ("feed", "shop")
        for at, version in enumerate(VERSIONS)
    )
    spoken = Sightings(version="roll-neck", remarks=60, mentions={"eyes": 30, "light": 9})
    kept = Responses(set="knitwear", questions=questions, counts=counts)
    return Report(
        set="knitwear",
        dated="as of 1 May 2026",
        invented=True,
        portraits=tuple(
            Portrait(version=one, mark=at, jpeg=None, width=360, height=450, why_not="it is gone")
            for at, one in enumerate(VERSIONS)
        ),
        runs=(
            Ran(
                outlet="feed",
                version="roll-neck",
                mark=1,
                destination="story",
                since="2026-03-02",
                until="open",
                state="live",
            ),
        ),
        asked=asked(
            kept,
            {one.name: (spoken,) for one in questions},
            first_out=None,
            now=NOON + timedelta(days=9),
        ),
    )


@pytest.mark.parametrize(("scheme", "wide"), [("dark", 390), ("light", 1280)])
def test_the_report_keeps_the_rules_for_everybody(
    browser: Browser, tmp_path: Path, scheme: Literal["light", "dark"], wide: int
) -> None:
    path, _ = put(report(), tmp_path)
    page = browser.new_page(viewport={"width": wide, "height": 900}, color_scheme=scheme)
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text))
    page.goto(path.as_uri())
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    across = page.evaluate("[document.documentElement.scrollWidth, window.innerWidth]")
    assert across[0] <= across[1]
    assert complaints == []
    page.close()
