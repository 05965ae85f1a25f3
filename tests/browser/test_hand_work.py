"""No work of the hand is lost: quick presses, swipes, notes, answers that come late."""

from __future__ import annotations

from playwright.sync_api import Browser, Page

from cropper.review.leafing import ON_A_PAGE
from tests.browser.conftest import VERSIONS, WAIT_MS, Command, Server, Visit, soon, until
from tests.browser.test_walks import crop_of, middle_of

FRONTAL, SHAWL = VERSIONS
SLOW_ANSWERS = """
    const quick = window.fetch;
    window.fetch = async (path, wish) => {
        const answer = await quick(path, wish);
        if (String(path).includes('/api/')) await new Promise((on) => setTimeout(on, 170));
        return answer;
    };
"""
"""Every answer comes 170 ms late, as on a machine that has other things to do."""
PRESS = """async ([key, times]) => {
    const stage = document.getElementById('stage');
    stage.focus();
    for (let count = 0; count < times; count += 1) {
        stage.dispatchEvent(new KeyboardEvent('keydown', { key, bubbles: true, cancelable: true }));
        await new Promise((on) => setTimeout(on, 33));
    }
}"""


PIXELS = 12
"""Every step is rounded to whole pixels: so much may come of twenty."""


def width_of(server: Server) -> float:
    x0, _, x1, _, _ = crop_of(server, SHAWL)
    return x1 - x0


def slowly(visit: Visit, destination: str = "tall-post") -> Page:
    visit.page.add_init_script(SLOW_ANSWERS)
    return visit.look(SHAWL, destination)


def test_sixty_quick_presses_move_the_crop_by_sixty_pixels(visit: Visit, server: Server) -> None:
    page = slowly(visit)
    before = crop_of(server, SHAWL)

    page.evaluate(PRESS, ["ArrowRight", 60])

    soon(page, lambda: crop_of(server, SHAWL)[0], before[0] + 60)
    visit.saved()
    assert page.input_value("#n-left") == str(int(before[0]) + 60)


def test_quick_presses_of_plus_and_of_closer_all_count(visit: Visit, server: Server) -> None:
    page = slowly(visit)
    wide = width_of(server)
    page.evaluate(PRESS, ["+", 20])
    soon(page, lambda: abs(width_of(server) - wide / 1.02**20) < PIXELS, wanted=True)
    visit.saved()
    wide = width_of(server)
    page.evaluate(
        """async () => {
            for (let count = 0; count < 10; count += 1) {
                document.getElementById('closer').click();
                await new Promise((on) => setTimeout(on, 33));
            }
        }"""
    )
    soon(page, lambda: abs(width_of(server) - wide * 0.95**10) < PIXELS, wanted=True)


def swipe(page: Page, across: float, down: float) -> None:
    x, y = middle_of(page, "#stage .frame")
    touch = page.context.new_cdp_session(page)
    for step in range(9):
        at = [{"x": x + across * step / 8, "y": y + down * step / 8}]
        kind = "touchMove" if step else "touchStart"
        touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": at})
        page.wait_for_timeout(20)
    touch.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


def test_a_finger_that_scrolls_moves_no_crop_and_one_that_was_told_to_does(
    browser: Browser, server: Server
) -> None:
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True)
    page = context.new_page()
    page.set_default_timeout(WAIT_MS)
    page.goto(server.address)
    page.goto(f"{server.base}/look/{SHAWL}#tall-post")
    page.wait_for_selector("#open-card")
    page.click('[data-word="held"]')
    page.wait_for_selector('[data-word="held"][aria-pressed="true"]')
    before = server.plan().master(SHAWL)

    swipe(page, 0, -160)
    page.wait_for_timeout(400)
    assert server.plan().master(SHAWL) == before

    page.evaluate("scrollTo(0, 0)")
    page.click("#finger")
    swipe(page, 25, 0)
    soon(page, lambda: server.plan().master(SHAWL) != before, wanted=True)
    context.close()


def note_of(server: Server, version: str, destination: str) -> str:
    master = server.plan().master(version)
    assert master is not None
    approval = master.approvals.get(destination)
    return approval.note if approval is not None else master.notes.get(destination, "")


def test_a_note_without_a_word_outlasts_nudges_and_other_crops(
    visit: Visit, server: Server
) -> None:
    page = visit.look(SHAWL)
    page.fill("#open-card .word input", "warmer, please")
    page.focus("#stage")
    page.keyboard.press("ArrowRight")
    visit.saved()
    assert page.input_value("#open-card .word input") == "warmer, please"
    page.click('.tile[data-name="story"]')
    page.wait_for_selector('#open-card[data-name="story"]')
    page.fill("#open-card .word input", "and softer")
    page.click('.tile[data-name="tall-post"]')
    page.wait_for_selector('#open-card[data-name="tall-post"]')
    assert page.input_value("#open-card .word input") == "warmer, please"

    soon(page, lambda: note_of(server, SHAWL, "tall-post"), "warmer, please")
    soon(page, lambda: note_of(server, SHAWL, "story"), "and softer")


def test_a_note_on_deliver_stays_when_another_file_is_held(visit: Visit, server: Server) -> None:
    page = visit.page
    page.goto(f"{visit.base}/deliver")
    page.wait_for_selector(".batch")
    batch = page.locator(f'.batch[aria-label="{SHAWL}"]')
    batch.locator("summary").click()
    batch.locator('input[aria-label^="Note on Tall post"]').fill("for the cover")
    batch.locator('button[aria-label^="Hold Vertical story"]').click()
    visit.saved()
    page.wait_for_selector('button[aria-label^="Hold Vertical story"][aria-pressed="true"]')

    note = page.locator(f'.batch[aria-label="{SHAWL}"] input[aria-label^="Note on Tall post"]')
    assert note.input_value() == "for the cover"
    soon(page, lambda: note_of(server, SHAWL, "tall-post"), "for the cover")


def in_view(page: Page, selector: str) -> bool:
    found: bool = page.evaluate(
        """selector => {
            const box = document.querySelector(selector).getBoundingClientRect();
            const top = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
            return box.top >= 0 && box.bottom <= innerHeight && box.left >= 0
                && box.right <= innerWidth && document.querySelector(selector).contains(top);
        }""",
        selector,
    )
    return found


def test_a_crop_opened_from_the_wall_is_in_view_and_so_is_approve(visit: Visit) -> None:
    page = visit.page
    for width, height in ((1440, 900), (1024, 768), (390, 844)):
        page.set_viewport_size({"width": width, "height": height})
        page.goto(f"{visit.base}/")
        page.click(f'.row[data-version="{SHAWL}"] .thumb[href$="#print-10x15cm"]')
        page.wait_for_selector('#open-card[data-name="print-10x15cm"]')
        until(page, "document.querySelector('#stage .frame') !== null")
        page.wait_for_timeout(150)
        assert in_view(page, '[data-word="approved"]'), (width, "approve")
        assert in_view(page, "#open-title"), (width, "title")
        assert in_view(page, '.tile[data-name="print-10x15cm"]'), (width, "tile")


def test_the_focus_stays_where_it_was_after_approving_all_that_are_good(visit: Visit) -> None:
    page = visit.page
    page.goto(f"{visit.base}/deliver")
    page.wait_for_selector(".batch button")
    page.locator(".batch button:not([aria-disabled]):has-text('good')").first.focus()
    page.keyboard.press("Enter")
    visit.saved()
    page.wait_for_timeout(150)

    assert page.evaluate("document.activeElement !== document.body")
    assert page.evaluate("document.activeElement.closest('.batch') !== null")


def test_turning_and_turning_back_leaves_the_crop_where_it_was(
    visit: Visit, server: Server
) -> None:
    page = visit.look(SHAWL)
    before = crop_of(server, SHAWL)
    page.click("#exact > summary")
    for deg in ("2.5", "0"):
        page.fill("#n-deg", deg)
        page.press("#n-deg", "Enter")
        soon(page, lambda: crop_of(server, SHAWL)[4], float(deg))
        visit.saved()

    assert crop_of(server, SHAWL) == before


def test_the_newest_list_wins_though_an_older_answer_comes_after_it(visit: Visit) -> None:
    page = visit.page
    page.add_init_script(
        """
        const quick = window.fetch;
        window.fetch = async (path, wish) => {
            const answer = await quick(path, wish);
            if (/api.job.*show=everything/.test(path) && window.lateNow)
                await new Promise((on) => setTimeout(on, 600));
            return answer;
        };"""
    )
    page.goto(f"{visit.base}/deliver")
    page.wait_for_selector(".batch")
    page.evaluate("window.lateNow = true")
    batch = page.locator(f'.batch[aria-label="{SHAWL}"]')
    batch.locator("summary").click()
    batch.locator('button[aria-label^="Approve Vertical story"]').click()
    visit.saved()
    page.select_option("#show", "some-approved")
    until(page, "document.querySelectorAll('.batch').length === 1")
    page.wait_for_timeout(900)

    assert page.locator(".batch").count() == 1


def test_a_version_cannot_be_sent_where_it_has_no_crop(visit: Visit, server: Server) -> None:
    page = visit.page
    page.goto(f"{visit.base}/set/knit")
    page.wait_for_selector("#matrix button")
    for version in VERSIONS:
        master = server.plan().master(version)
        assert master is not None
        empty = [one.destination for one in master.answers if not one.proposals]
        for name in empty:
            row = page.locator(f'#matrix tr[data-row="{name}"]')
            assert row.locator(f'td button[aria-label*="{version}"]').count() == 0


def test_a_frozen_crop_says_so_and_changes_only_after_unfreezing(
    visit: Visit, server: Server
) -> None:
    page = visit.look(SHAWL)
    before = crop_of(server, SHAWL)
    page.click("#open-card [data-key='freeze']")
    page.wait_for_selector("#open-card >> text=Frozen by you")
    page.reload()
    page.wait_for_selector("#open-card >> text=Frozen by you")
    assert page.locator("#stage .grip").count() == 0
    assert page.is_disabled("#closer")
    page.focus("#stage")
    page.keyboard.press("ArrowRight")

    page.keyboard.press("1")
    page.click("#notice button:has-text('Unfreeze')")
    page.wait_for_selector("#stage .grip", state="attached")
    assert crop_of(server, SHAWL) == before
    page.focus("#stage")
    page.keyboard.press("ArrowRight")
    soon(page, lambda: crop_of(server, SHAWL)[0], before[0] + 1)


def test_try_again_says_when_the_page_was_started_anew(browser: Browser, command: Command) -> None:
    server = command.start()
    context = browser.new_context(viewport={"width": 1280, "height": 800})
    page = context.new_page()
    page.set_default_timeout(WAIT_MS)
    page.goto(server.address)
    page.goto(f"{server.base}/look/{SHAWL}#tall-post")
    page.wait_for_selector("#open-card")
    command.kill()
    page.focus("#stage")
    page.keyboard.press("ArrowRight")
    page.wait_for_selector("#notice >> text=does not answer")
    page.route("**/api/**", lambda route: route.fulfill(status=403, body="opens with the address"))
    page.click("text=Try again")
    page.wait_for_selector("#notice >> text=started again since")
    context.close()


def test_on_a_phone_the_wall_is_no_wider_than_the_window(browser: Browser, server: Server) -> None:
    context = browser.new_context(viewport={"width": 390, "height": 844})
    page = context.new_page()
    page.goto(server.address)
    page.wait_for_selector(".row")
    wide = {"wall": page.evaluate("document.documentElement.scrollWidth")}
    page.goto(f"{server.base}/set/knit")
    page.wait_for_selector("#pair figure")
    page.wait_for_timeout(200)
    wide["set"] = page.evaluate("document.documentElement.scrollWidth")
    reach = page.evaluate(
        """[...document.querySelectorAll('#matrix td:last-of-type, #pair figure')].every((one) => {
            const box = one.getBoundingClientRect();
            return box.left >= 0 && box.right <= innerWidth + 1;
        })"""
    )
    context.close()

    assert wide == {"wall": 390, "set": 390}
    assert reach


def test_deliver_scales_by_hand(visit: Visit) -> None:
    page = visit.page
    page.goto(f"{visit.base}/deliver")
    page.wait_for_selector(".batch")
    heights = page.evaluate(
        "[...document.querySelectorAll('.batch')].map((one) => one.getBoundingClientRect().height)"
    )
    assert ON_A_PAGE * max(heights) < 6000
    assert page.locator("#find").count() == 1
    for _ in range(30):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.id === 'approve-good'"):
            break
    assert page.evaluate("document.activeElement.id") == "approve-good"
