"""Shapes, screen sizes, circles, covered zones and identity templates against outside values.

Sources:

- Customary screen ratios and sizes, link preview 1.91:1, overlay zones of vertical stories:
  common practice, no authoritative source.
- Circle in a square: geometry (pi / 4; 1 / sqrt 2).
- Title safe 90 % of width and height: SMPTE ST 2046-1:2009 (read in a stored explainer).
- 2 x 2 in template: head 1 to 1 3/8 in, eyes 1 1/8 to 1 3/8 in above the bottom edge: US State
  Department (stored page). The fractions are worked out below from those inches.
- 35 x 45 mm template: face 32 to 36 mm: German passport sample-photo sheet, English edition
  (stored). ISO/IEC 19794-5:2011 clause 8 eye height .3 to .5 of the picture (from memory).
- Largest crop of a ratio: arithmetic.
"""

from __future__ import annotations

import math
from fractions import Fraction

import pytest

from cropper.destination.destination import Across, Band, Destination, Frame, KeepClear
from cropper.destination.presets import load_presets
from cropper.geometry import WHOLE, PixelBox, Size, half_up

SCREENS = {
    "square-post": ((1080, 1080), Fraction(1)),
    "tall-post": ((1080, 1350), Fraction(4, 5)),
    "story": ((1080, 1920), Fraction(9, 16)),
    "wide": ((1920, 1080), Fraction(16, 9)),
    "page-header": ((1800, 600), Fraction(3)),
    "link-preview": ((1200, 630), Fraction(40, 21)),
}
LARGEST_CROP_KEPT = {
    (6000, 4000): {
        "square-post": 0.6667,
        "tall-post": 0.5333,
        "story": 0.375,
        "wide": 0.8438,
        "page-header": 0.5,
        "print-5x7": 0.4762,
    },
    (4000, 6000): {
        "square-post": 0.6667,
        "tall-post": 0.8333,
        "story": 0.8438,
        "wide": 0.375,
        "page-header": 0.2222,
        "print-5x7": 0.9333,
    },
}


def shipped(name: str) -> Destination:
    (found,) = load_presets().choose([name])
    return found


@pytest.mark.parametrize(("name", "size", "shape"), [(n, *v) for n, v in SCREENS.items()])
def test_screen_sizes(name: str, size: tuple[int, int], shape: Fraction) -> None:
    destination = shipped(name)
    assert destination.delivered == Size(*size)
    assert destination.shape.exact
    assert destination.shape.least == shape


def test_a_link_preview_is_called_1_91_to_1_and_is_within_half_a_percent_of_it() -> None:
    assert float(shipped("link-preview").shape.least) == pytest.approx(1.9048, abs=5e-5)
    assert abs(shipped("link-preview").shape.least / Fraction("1.91") - 1) <= Fraction(5, 1000)


@pytest.mark.parametrize("master", LARGEST_CROP_KEPT)
def test_the_largest_crop_of_each_shape_keeps_the_published_share(master: tuple[int, int]) -> None:
    wide, high = master
    for name, kept in LARGEST_CROP_KEPT[master].items():
        shape = shipped(name).shape.least
        across = min(Fraction(wide), high * shape)
        assert float(across * (across / shape) / (wide * high)) == pytest.approx(kept, abs=5e-5)


def test_a_storys_zones_in_pixels() -> None:
    story = shipped("story")
    top, bottom = story.covered
    frame = PixelBox(0, 0, 1080, 1920)
    assert half_up(top.box.of(frame).y1) == 269
    assert half_up(1920 - bottom.box.of(frame).y0) == 384
    assert top.keep_clear is bottom.keep_clear is KeepClear.FACE
    assert top.hair_may_enter


def test_title_safe_on_a_wide_screen_leaves_96_and_54_px() -> None:
    safe = shipped("wide").safe.of(PixelBox(0, 0, 1920, 1080))
    assert (safe.x0, safe.y0, 1920 - safe.x1, 1080 - safe.y1) == (96, 54, 96, 54)


def test_a_round_avatar_loses_a_fifth_of_its_square() -> None:
    avatar = shipped("avatar")
    assert avatar.frame is Frame.CIRCLE
    assert avatar.shape.least == 1
    assert math.pi / 4 == pytest.approx(0.7854, abs=5e-5)
    assert 1 / math.sqrt(2) == pytest.approx(0.7071, abs=5e-5)


def test_a_header_is_shown_whole_and_two_to_one() -> None:
    header = shipped("page-header")
    whole, small = (area.box for area in header.live_areas)
    assert whole == WHOLE
    assert (small.x1 - small.x0) * header.shape.least == 2
    assert small.x0 == 1 - small.x1


def test_the_two_inch_template_is_the_published_one() -> None:
    picture = shipped("id-2x2in")
    head, eyes = picture.head_share, picture.eye_line
    assert isinstance(head, Band)
    assert isinstance(eyes, Band)
    inches = Fraction(2)
    assert head.limit_least == 1 / inches
    assert head.limit_most == Fraction("1.375") / inches
    assert eyes.limit_least == 1 - Fraction("1.375") / inches
    assert eyes.limit_most == 1 - Fraction("1.125") / inches
    assert (head.limit_least * 600, head.limit_most * 600) == (300, 412.5)
    assert (eyes.limit_least * 600, eyes.limit_most * 600) == (187.5, 262.5)


def test_the_35_by_45_template_is_the_published_one() -> None:
    picture = shipped("id-35x45mm")
    head, eyes = picture.head_share, picture.eye_line
    assert isinstance(head, Band)
    assert isinstance(eyes, Band)
    assert head.limit_least * 45 == pytest.approx(32)
    assert head.limit_most * 45 == pytest.approx(36)
    assert (eyes.limit_least, eyes.limit_most) == (0.3, 0.5)


def test_the_middle_of_each_template_holds_a_whole_head_with_hair() -> None:
    """Eyes .49 of the head below the skull's top [ANSUR II]; hair up to .09 of it [practice]."""
    for name in ("id-2x2in", "id-35x45mm"):
        picture = shipped(name)
        head, eyes = picture.head_share, picture.eye_line
        assert isinstance(head, Band)
        assert isinstance(eyes, Band)
        share = (head.least + head.most) / 2
        eye = (eyes.least + eyes.most) / 2
        assert eye - 0.49 * share - 0.09 * share > 0.01, name
        assert eye + 0.51 * share < 0.95, name


def test_identity_pictures_defer_to_the_authority_and_stand_in_the_middle() -> None:
    for picture in load_presets().choose(["identity"]):
        assert "issuing authority" in picture.caution
        assert picture.across is Across.CENTRE
        assert picture.head_share is not None
