"""The page: everything escaped, nothing fetched, every verdict in words and in shape."""

from __future__ import annotations

import base64
import hashlib
import io
import re
from collections.abc import Callable
from dataclasses import replace
from html.parser import HTMLParser

import pytest
from PIL import Image

from cropper.proof import words
from cropper.proof.entry import Sheet
from cropper.proof.making import developed
from cropper.proof.page import html
from cropper.proposal.proposal import Verdict

NASTY = "<script>alert('x')</script>\"'><img src=x onerror=alert(1)>&amp;"


class Outline(HTMLParser):
    """Tags, attributes and visible text as a browser would read them."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str, str]] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def page(sheet: Sheet) -> str:
    return html(*developed(sheet))


def outline(text: str) -> Outline:
    read = Outline()
    read.feed(text)
    return read


def pictures(text: str) -> list[bytes]:
    found = re.findall(r"data:image/jpeg;base64,([A-Za-z0-9+/=]+)", text)
    return [base64.b64decode(one) for one in found]


def segments(jpeg: bytes) -> list[int]:
    """The markers before the scan (ITU-T T.81, B.1.1)."""
    markers, at = [], 2
    while jpeg[at + 1] != 0xDA:
        markers.append(jpeg[at + 1])
        at += 2 + int.from_bytes(jpeg[at + 2 : at + 4], "big")
    return markers


def test_every_text_of_the_photographers_is_escaped(named: Callable[[str], Sheet]) -> None:
    plain, nasty = outline(page(named("a plain name"))), outline(page(named(NASTY)))
    assert nasty.tags == plain.tags
    assert "script" not in nasty.tags
    assert "img" not in nasty.tags
    plain_names = [(tag, name) for tag, name, _ in plain.attributes]
    assert [(tag, name) for tag, name, _ in nasty.attributes] == plain_names
    assert NASTY in "".join(nasty.text)


def test_the_page_asks_for_nothing_from_anywhere(sheet: Sheet) -> None:
    read = outline(page(sheet))
    loading = {"href", "src", "srcset", "action", "data", "poster", "xlink:href", "background"}
    for tag, name, value in read.attributes:
        assert name != "style", f"{tag} carries a style that the page's own policy would refuse"
        assert not name.startswith("on"), f"{tag} carries {name}"
        if name in loading:
            assert value.startswith(("#", "data:image/jpeg;base64,")), f"{tag} {name}={value[:60]}"
    assert not {"script", "link", "iframe", "object", "embed", "base"} & set(read.tags)
    assert "url(" not in page(sheet)
    assert "@import" not in page(sheet)


def test_every_reference_inside_the_page_has_its_target_once(sheet: Sheet) -> None:
    read = outline(page(sheet))
    ids = [value for _, name, value in read.attributes if name == "id"]
    assert len(ids) == len(set(ids))
    for tag, name, value in read.attributes:
        if name == "href" and value.startswith("#"):
            assert value[1:] in ids, f"{tag} points to {value}"


def test_the_policy_names_the_style_block_by_its_hash(sheet: Sheet) -> None:
    text = page(sheet)
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', text)
    style = re.search(r"<style>(.*?)</style>", text, re.DOTALL)
    assert policy is not None
    assert style is not None
    digest = base64.b64encode(hashlib.sha256(style[1].encode()).digest()).decode()
    assert f"style-src 'sha256-{digest}'" in policy[1]
    assert "default-src 'none'" in policy[1]
    assert "script-src" not in policy[1]


def test_previews_carry_pixels_and_nothing_else(sheet: Sheet) -> None:
    found = pictures(page(sheet))
    assert found
    for jpeg in found:
        assert b"secret" not in jpeg
        picture = Image.open(io.BytesIO(jpeg))
        assert set(picture.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
        assert not picture.getexif()
        # APP1 (EXIF, XMP), APP2 (profiles), APP13 (IPTC) ... APP15 and comments: none.
        assert not [one for one in segments(jpeg) if 0xE1 <= one <= 0xEF or one == 0xFE]


@pytest.mark.parametrize("verdict", list(Verdict))
def test_each_verdict_is_said_and_shaped(sheet: Sheet, verdict: Verdict) -> None:
    text = page(sheet)
    slug = verdict.value.replace(" ", "-")
    assert f'id="v-{slug}"' in text
    assert re.search(rf'href="#v-{slug}"/></svg>{words.said(verdict)}</span>', text)


def test_no_crop_says_what_conflicts_and_the_ways_out(sheet: Sheet) -> None:
    said = " ".join(outline(page(sheet)).text)
    assert "No 3:1 crop keeps eyes and chin." in said
    assert "The 3:1 header needs 412 px more above the hair." in said
    assert "Add a border of 412 px above." in said
    assert "the largest 3:1 it holds" in said


def test_a_round_frame_is_shown_round(sheet: Sheet) -> None:
    avatar = page(sheet).split("<h3>Round avatar</h3>")[0].rpartition("<article")[2]
    assert re.search(r'class="o o-circle veil" fill-rule="evenodd" d="M[^"]*A450 450', avatar)


def test_each_layer_has_its_own_switch_that_needs_no_script(sheet: Sheet) -> None:
    text = page(sheet)
    for layer in ("thirds", "eye-line", "pupils", "headroom", "safe", "bleed", "gutter", "circle"):
        assert f'id="show-{layer}"' in text
        assert f"body:has(#show-{layer}:not(:checked)) .card .o-{layer}" in text


def test_each_state_can_be_left_out_and_words_stand_where_something_is_to_be_decided(
    sheet: Sheet,
) -> None:
    text = page(sheet)
    for card in re.findall(
        r'<article class="card (is-[a-z-]+)[^"]*"(.*?)</article>', text, re.DOTALL
    ):
        state, inside = card
        assert f'id="state-{state[3:]}"' in text
        assert f"body:has(#state-{state[3:]}:not(:checked)) .card.{state}" in text
        before = inside.partition('<details class="more"')[0]
        assert ('<p class="reason">' in before) == (state in {"is-breaks", "is-uncertain"})


def test_a_layer_that_no_picture_has_gets_no_switch(sheet: Sheet) -> None:
    first = sheet.masters[0]
    tall = replace(first, entries=first.entries[:1])
    assert 'id="show-gutter"' not in page(replace(sheet, masters=(tall,), matrices=()))


def test_a_hand_made_choice_is_marked(sheet: Sheet) -> None:
    first = sheet.masters[0]
    entry = replace(
        first.entries[0], chosen=first.entries[0].answer.proposals[1], chosen_by="photographer"
    )
    text = page(replace(sheet, masters=(replace(first, entries=(entry,)),), matrices=()))
    assert "Chosen by hand (photographer)" in text
    assert "The program&#39;s proposals" in text
    assert "Chosen by hand" not in page(sheet)


def test_the_program_picking_its_own_best_is_not_hand_work(sheet: Sheet) -> None:
    entry = sheet.masters[0].entries[0]
    assert not replace(entry, chosen=entry.answer.proposals[0]).by_hand


def test_the_matrix_marks_where_each_version_goes(sheet: Sheet) -> None:
    said = " ".join(outline(page(sheet)).text)
    assert "Which version goes where: winter" in said
    assert said.count("✓ goes here") == 2
    assert "40 px short, enlarged" in said


def test_a_finding_without_eyes_says_so_and_proposes_nothing(sheet: Sheet) -> None:
    first = sheet.masters[0]
    finding = replace(first.finding, subjects=(), problem="The eyes are covered by the hat.")
    entry = replace(
        first.entries[0], answer=replace(first.entries[0].answer, proposals=(), no_crop=None)
    )
    text = page(
        replace(sheet, masters=(replace(first, finding=finding, entries=(entry,)),), matrices=())
    )
    assert "The eyes are covered by the hat." in text
    assert "place the eyes by hand" in text


def test_the_same_sheet_gives_the_same_page(sheet: Sheet) -> None:
    assert page(sheet) == page(sheet)


def relative_luminance(colour: str) -> float:
    """WCAG 2.2, definition of relative luminance."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, contrast ratio."""
    light, dark = sorted((relative_luminance(one), relative_luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("mode", [0, 1])
def test_words_stand_out_from_every_ground_in_light_and_dark(sheet: Sheet, mode: int) -> None:
    style = page(sheet).split("<style>")[1].split("</style>")[0]
    blocks = re.findall(r":root \{(.*?)\}", style, re.DOTALL)
    colours = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", blocks[mode]))
    inks = ("ink", "soft", "accent", "holds", "bends", "breaks", "uncertain", "no-crop")
    for ink in inks:
        for ground in ("page", "card", "raised"):
            ratio = contrast(colours[ink], colours[ground])
            assert ratio >= 4.5, f"{ink} on {ground}: {ratio:.2f} (WCAG 2.2 AA asks 4.5)"


@pytest.mark.parametrize("mode", [0, 1])
def test_grounds_are_nearly_neutral(sheet: Sheet, mode: int) -> None:
    style = page(sheet).split("<style>")[1].split("</style>")[0]
    block = re.findall(r":root \{(.*?)\}", style, re.DOTALL)[mode]
    for ground in re.findall(r"--(?:page|card|raised): (#[0-9a-f]{6})", block):
        channels = [int(ground[at : at + 2], 16) for at in (1, 3, 5)]
        assert max(channels) - min(channels) <= 6, "a coloured ground shifts how skin is judged"
        assert channels[0] >= channels[2], "warm rather than cold"
