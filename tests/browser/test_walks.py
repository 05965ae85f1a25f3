"""Whole walks through the page: by mouse, by keyboard alone, by touch, and with eyes by hand."""

from __future__ import annotations

import json

from playwright.sync_api import Browser, Page

from cropper.geometry import Point
from cropper.job.approving import standing
from cropper.job.plan import HandMarks
from cropper.job.store import DELIVERABLES
from tests.browser.conftest import (
    BLURRED,
    FACE_NEEDED,
    VERSIONS,
    Server,
    Visit,
    settled,
    soon,
    until,
)

FRONTAL, SHAWL = VERSIONS
TABS_AT_MOST = 200


def middle_of(page: Page, selector: str) -> tuple[float, float]:
    page.wait_for_selector(selector, state="attached")
    x, y = page.evaluate(
        """selector => {
            const box = document.querySelector(selector).getBoundingClientRect();
            return [box.x + box.width / 2, box.y + box.height / 2];
        }""",
        selector,
    )
    return x, y


def crop_of(server: Server, version: str, destination: str = "tall-post") -> list[float]:
    master = server.plan().master(version)
    assert master is not None
    chosen = master.chosen(destination)
    assert chosen is not None
    box = chosen.crop.box
    return [box.x0, box.y0, box.x1, box.y1, chosen.crop.straighten_deg]


def approved(server: Server, version: str, destination: str) -> bool:
    master = server.plan().master(version)
    assert master is not None
    return standing(master, destination).approved


def drag(page: Page, selector: str, across: float, down: float) -> str:
    """Drag what is drawn there; gives the words that stood under the picture meanwhile."""
    x, y = middle_of(page, selector)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + across, y + down, steps=10)
    until(page, "cropperTimings.length > 0")
    page.wait_for_timeout(150)
    words = page.inner_text("#standing")
    page.mouse.up()
    return words


def test_a_walk_by_mouse_from_opening_to_the_approved_export(visit: Visit, server: Server) -> None:
    page = visit.page
    assert "key=" not in page.url
    page.click(f'.row[data-version="{SHAWL}"] .whole')
    page.click('.tile[data-name="story"]')
    page.click('.tile[data-name="tall-post"]')
    before = crop_of(server, SHAWL)

    words = drag(page, "#stage .frame", 40, 0)
    visit.saved()
    moved = crop_of(server, SHAWL)
    assert moved[0] > before[0]
    assert moved[2] - moved[0] == before[2] - before[0]
    assert any(word in words for word in ("fine", "problem", "good", "check"))

    drag(page, '#stage .grip[data-part="se"]', -60, -75)
    until(page, "document.getElementById('n-width').value !== ''")
    soon(page, lambda: crop_of(server, SHAWL) != moved, wanted=True)
    visit.saved()
    smaller = crop_of(server, SHAWL)
    assert smaller[:2] == moved[:2]
    assert smaller[2] < moved[2]
    assert abs((smaller[2] - smaller[0]) * 5 - (smaller[3] - smaller[1]) * 4) <= 5

    page.click('#open-card [data-word="approved"]')
    soon(page, lambda: approved(server, SHAWL, "tall-post"), wanted=True)
    page.click("text=Approve and deliver")
    page.wait_for_selector("#tally >> text=1 of")
    page.check("#everything")
    page.click("#export")
    page.wait_for_selector("#exported >> text=1 file in", timeout=30_000)
    (written,) = (server.job / DELIVERABLES).glob("*.jpg")
    assert "tall-post" in written.name
    manifest = json.loads((server.job / DELIVERABLES / "manifest.json").read_text())
    assert len(manifest["delivered"]) == 1


def tab_to(page: Page, selector: str) -> None:
    """Press Tab until something that matches has the focus."""
    for _ in range(TABS_AT_MOST):
        page.keyboard.press("Tab")
        if page.evaluate("wanted => document.activeElement.matches(wanted)", selector):
            return
    message = f"no way by Tab to {selector}"
    raise AssertionError(message)


def test_the_same_walk_by_keyboard_alone(visit: Visit, server: Server) -> None:
    page = visit.page
    tab_to(page, f'a.whole[href$="{SHAWL}"]')
    page.keyboard.press("Enter")
    page.wait_for_selector("#open-card")
    tab_to(page, '.tile[data-name="story"]')
    page.keyboard.press("Enter")
    page.wait_for_selector('#open-card[data-name="story"]')
    before = crop_of(server, SHAWL, "story")

    page.keyboard.press("Shift+Tab")  # from the opened card back up
    for _ in range(TABS_AT_MOST):
        if page.evaluate("document.activeElement.id === 'stage'"):
            break
        page.keyboard.press("Shift+Tab")
    page.keyboard.press("+")
    soon(page, lambda: crop_of(server, SHAWL, "story") != before, wanted=True)
    visit.saved()
    closer = crop_of(server, SHAWL, "story")
    assert closer[2] - closer[0] < before[2] - before[0]
    page.keyboard.press("ArrowRight")
    soon(page, lambda: crop_of(server, SHAWL, "story")[0], closer[0] + 1)
    page.keyboard.press("Shift+ArrowLeft")
    percent = round((closer[2] - closer[0]) / 100)
    soon(page, lambda: crop_of(server, SHAWL, "story")[0], closer[0] + 1 - percent)
    page.keyboard.press(".")
    soon(page, lambda: crop_of(server, SHAWL, "story")[4], 0.1)
    visit.saved()

    tab_to(page, '#open-card [data-word="approved"]')
    page.keyboard.press("Enter")
    soon(page, lambda: approved(server, SHAWL, "story"), wanted=True)
    page.wait_for_selector("#open-card")
    page.reload()
    page.wait_for_selector("#open-card")
    tab_to(page, 'nav a[href="/deliver"]')
    page.keyboard.press("Enter")
    page.wait_for_selector("#tally >> text=1 of")
    tab_to(page, "#everything")
    page.keyboard.press("Space")
    tab_to(page, "#export")
    page.keyboard.press("Enter")
    page.wait_for_selector("#exported >> text=1 file in", timeout=30_000)
    assert len(list((server.job / DELIVERABLES).glob("*story*.jpg"))) == 1


def eyes_on_screen(page: Page, *places: tuple[float, float]) -> list[tuple[float, float]]:
    """Where points of the master lie in the window."""
    found: list[tuple[float, float]] = page.evaluate(
        """places => places.map(([x, y]) => {
            const at = new DOMPoint(x, y).matrixTransform(
                document.getElementById('stage').getScreenCTM());
            return [at.x, at.y];
        })""",
        [list(place) for place in places],
    )
    return found


def true_eyes(server: Server) -> list[tuple[float, float]]:
    """The blurred picture is the frontal one: the eyes are where they were found there."""
    frontal = server.plan().master(FRONTAL)
    assert frontal is not None
    (person,) = frontal.finding.principals
    return [(eye.x, eye.y) for eye in (person.left_eye, person.right_eye)]


def marks_of(server: Server, version: str) -> HandMarks:
    master = server.plan().master(version)
    assert master is not None
    return master.marks


def test_eyes_placed_by_mouse_where_finding_fails_bring_all_proposals(
    visit: Visit, server: Server
) -> None:
    page = visit.look(BLURRED)
    assert "check" in page.inner_text("#standing")

    page.get_by_role("button", name="Place the eyes by hand").click()
    for x, y in eyes_on_screen(page, *true_eyes(server)):
        page.mouse.click(x, y)
    page.wait_for_selector('#stage [data-part="eye0"]')

    master = server.plan().master(BLURRED)
    assert master is not None
    assert all(answer.proposals or answer.no_crop for answer in master.answers)
    assert sum(bool(answer.proposals) for answer in master.answers) > 3
    (person,) = master.finding.principals
    for eye, true in zip((person.left_eye, person.right_eye), true_eyes(server), strict=True):
        assert abs(eye.x - true[0]) < 6
        assert abs(eye.y - true[1]) < 6

    crown = eyes_on_screen(page, (person.hair_top.at.x, person.hair_top.at.y + 60))[0]
    page.click("#people-menu > summary")
    page.click("#place-crown")
    page.mouse.click(*crown)
    until(page, "document.getElementById('undo').title === 'marked the people'")
    soon(page, lambda: marks_of(server, BLURRED).crown is not None, wanted=True)
    visit.saved()
    page.click("#undo")
    soon(page, lambda: server.plan().master(BLURRED), master)


def test_a_picture_without_a_face_is_cropped_by_hand_like_any_other(
    visit: Visit, server: Server
) -> None:
    page = visit.look(BLURRED, "avatar")
    before = crop_of(server, BLURRED, "avatar")

    drag(page, "#stage .frame", 0, 30)
    visit.saved()

    moved = crop_of(server, BLURRED, "avatar")
    assert moved[1] > before[1]
    page.reload()
    page.wait_for_selector("#open-card")
    assert page.input_value("#n-top") == str(int(moved[1]))
    page.click("button:has-text('Approve')")
    soon(page, lambda: approved(server, BLURRED, "avatar"), wanted=True)


def test_eyes_placed_by_arrow_keys_and_moved_by_them(visit: Visit, server: Server) -> None:
    page = visit.look(BLURRED)
    tab_to(page, "#open-card .ways button")
    page.keyboard.press("Enter")
    page.keyboard.press("Shift+ArrowLeft")
    page.keyboard.press("Enter")
    for _ in range(6):
        page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("Enter")
    page.wait_for_selector('#stage [data-part="eye0"]')
    visit.saved()
    eyes = marks_of(server, BLURRED).eyes
    assert eyes is not None

    tab_to(page, '[data-part="eye0"]')
    page.keyboard.press("ArrowDown")

    lower = (Point(eyes[0].x, eyes[0].y + 1), eyes[1])
    soon(page, lambda: marks_of(server, BLURRED).eyes, lower)
    visit.saved()
    soon(page, lambda: page.evaluate("document.activeElement.dataset.part"), "eye0")


def test_undo_and_redo_by_button_and_by_key(visit: Visit, server: Server) -> None:
    page = visit.look(SHAWL)
    before = server.plan()
    drag(page, "#stage .frame", 40, 0)
    visit.saved()
    after = server.plan()
    assert after != before

    page.click("#undo")
    page.wait_for_selector("#saved >> text=Undone")
    assert settled(server.plan()) == settled(before)
    page.keyboard.press("Control+Shift+z")
    page.wait_for_selector("#saved >> text=Redone")
    assert settled(server.plan()) == settled(after)
    page.keyboard.press("Control+z")
    page.wait_for_selector("#saved >> text=Undone")
    assert settled(server.plan()) == settled(before)


def test_escape_lets_a_drag_go_without_a_change(visit: Visit, server: Server) -> None:
    page = visit.look(SHAWL)
    before = server.plan()
    x, y = middle_of(page, "#stage .frame")
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x, y + 50, steps=4)
    page.keyboard.press("Escape")
    page.mouse.up()
    page.wait_for_timeout(300)

    assert settled(server.plan()) == settled(before)


def measures(server: Server) -> tuple[float, float, float]:
    """Width, height and degrees."""
    x0, y0, x1, y1, deg = crop_of(server, SHAWL)
    return x1 - x0, y1 - y0, deg


def test_typed_numbers_turn_and_place_the_crop(visit: Visit, server: Server) -> None:
    page = visit.look(SHAWL)
    page.click("#exact > summary")
    page.fill("#n-width", "900")
    page.press("#n-width", "Enter")
    soon(page, lambda: measures(server), (900, 1125, 0))
    visit.saved()
    page.fill("#n-deg", "3.5")
    page.press("#n-deg", "Enter")

    soon(page, lambda: measures(server), (900, 1125, 3.5))
    turned = """document.querySelector('#result .view img')?.style.transform
        .includes('rotate(-3.5deg)')"""
    until(page, turned)


def test_a_finger_drags_the_crop(browser: Browser, server: Server) -> None:
    context = browser.new_context(viewport={"width": 1024, "height": 768}, has_touch=True)
    page = context.new_page()
    page.goto(server.address)
    page.goto(f"{server.base}/look/{SHAWL}#tall-post")
    page.wait_for_selector("#open-card")
    page.click("#finger")
    before = crop_of(server, SHAWL)
    x, y = middle_of(page, "#stage .frame")
    touch = context.new_cdp_session(page)
    steps = [("touchStart", 0)] + [("touchMove", 8 * step) for step in range(1, 8)]
    for kind, across in steps:
        points = [{"x": x + across, "y": y}]
        touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
    touch.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    until(page, "/^Saved/.test(document.getElementById('saved').textContent)")

    assert crop_of(server, SHAWL)[0] > before[0]
    context.close()


def test_two_versions_stand_side_by_side_at_one_size_of_the_face(
    visit: Visit, server: Server
) -> None:
    page = visit.page
    page.click("text=Set: knit")
    page.wait_for_selector("#pair figure svg")
    scales = page.evaluate(
        """[...document.querySelectorAll('#pair svg.picture')].map(
            (one) => one.getBoundingClientRect().width / one.viewBox.baseVal.width)"""
    )
    heads = []
    for version in VERSIONS:
        master = server.plan().master(version)
        assert master is not None
        heads.append(master.finding.principals[0].head_height_px)

    first, second = (scale * head for scale, head in zip(scales, heads, strict=True))
    assert abs(first - second) < 0.01 * first

    given = server.plan().sets[0].best["story"]
    other = next(one for one in VERSIONS if one != given)
    page.click(f'#matrix button[aria-label^="Send {other} to Vertical story"]')
    page.wait_for_selector("text=goes here, by your choice")
    assert server.plan().sets[0].best["story"] == other


def test_a_note_under_way_survives_a_nudge(visit: Visit, server: Server) -> None:
    page = visit.look(SHAWL)
    page.fill("#open-card .word input", "warmer, please")
    page.click('#open-card [data-word="held"]')
    page.wait_for_selector('#open-card [data-word="held"][aria-pressed="true"]')

    master = server.plan().master(SHAWL)
    assert master is not None
    approval = standing(master, "tall-post").approval
    assert approval is not None
    assert (approval.word, approval.note) == ("held", "warmer, please")
    drag(page, "#stage .frame", 30, 0)
    visit.saved()
    assert "Check again" in page.inner_text("#open-card .word")


def test_a_crop_is_drawn_by_hand_where_none_was_proposed(visit: Visit, server: Server) -> None:
    page = visit.look(BLURRED, FACE_NEEDED)
    page.get_by_role("button", name="Draw one by hand").click()
    visit.saved()
    page.wait_for_selector("#result .view")

    x0, y0, x1, y1, _ = crop_of(server, BLURRED, FACE_NEEDED)
    assert abs((x1 - x0) * 45 - (y1 - y0) * 35) <= 45  # 35 x 45 mm, within a pixel
    assert "check" in page.inner_text("#standing")
    assert "No face" in page.inner_text("#standing")


def test_a_slide_near_a_third_snaps_to_it(visit: Visit, server: Server) -> None:
    page = visit.look(FRONTAL, "story")
    x0, _, x1, _, _ = crop_of(server, FRONTAL, "story")
    page.click("#exact > summary")
    page.check("#snap")
    page.click("#exact > summary")
    shown: float = page.evaluate(
        "document.querySelector('#stage .frame').getBoundingClientRect().width"
    )

    drag(page, "#stage .frame", (eyes_across(server) - 1 / 3) * shown + 3, 0)
    visit.saved()

    soon(page, lambda: abs(eyes_across(server) - 1 / 3) < 1.5 / (x1 - x0), wanted=True)


def eyes_across(server: Server) -> float:
    """Where the eyes stand in the chosen story, as a share of its width from the left."""
    x0, _, x1, _, _ = crop_of(server, FRONTAL, "story")
    master = server.plan().master(FRONTAL)
    assert master is not None
    return (master.finding.principals[0].eyes.x - x0) / (x1 - x0)


def test_a_tilted_head_is_levelled_and_the_eyes_measured_level(
    visit: Visit, server: Server
) -> None:
    page = visit.look(SHAWL)
    before = server.plan().master(SHAWL)
    assert before is not None
    tilt = before.finding.principals[0].tilt_deg
    whole = crop_of(server, SHAWL)
    page.click("#closer")
    page.click("#closer")
    soon(page, lambda: crop_of(server, SHAWL) != whole, wanted=True)
    visit.saved()
    page.click("#exact > summary")
    page.click("#level")

    soon(page, lambda: abs(crop_of(server, SHAWL)[4] - tilt) < 0.01, wanted=True)
    lines = """(() => {
        const found = [...document.querySelectorAll('#result .o-eye-line line')];
        return found.length > 0 && found.every((one) =>
            Math.abs(one.y1.baseVal.value - one.y2.baseVal.value) < 1.5);
    })()"""
    until(page, lines)
