"""What a destination is once built: turned, oriented, and found in the installation."""

from __future__ import annotations

from fractions import Fraction

import pytest

from cropper._resources import shipped
from cropper.destination.destination import Band, Destination, ShapeRange
from cropper.destination.presets import load_presets
from cropper.errors import CropperError


def named(name: str) -> Destination:
    (found,) = load_presets().choose([name])
    return found


def test_a_print_turns_with_its_page_and_what_the_lab_trims() -> None:
    upright = named("print-5x7")
    turned = upright.turned
    assert upright.delivered is not None
    assert turned.delivered == upright.delivered.turned
    assert turned.page_mm == (Fraction("177.8"), Fraction(127))
    assert turned.live_areas[0].box.x0 == upright.live_areas[0].box.y0
    assert upright.orientations == (upright, turned)


def test_what_is_not_turnable_has_one_orientation() -> None:
    assert named("story").orientations == (named("story"),)


def test_inches_count_the_bleed() -> None:
    assert named("cover-letter").width_in_inches() == Fraction("8.75")
    assert named("story").width_in_inches() is None


def test_a_shape_range_runs_upwards_and_turns_over() -> None:
    shape = ShapeRange(Fraction(4, 5), Fraction(3, 2))
    assert shape.turned == ShapeRange(Fraction(2, 3), Fraction(5, 4))
    assert not shape.exact
    with pytest.raises(ValueError, match="shape range"):
        ShapeRange(Fraction(2), Fraction(1))


def test_a_band_lies_within_its_limits() -> None:
    with pytest.raises(ValueError, match="band"):
        Band(0.2, 0.3, 0.25, 0.45)


def test_presets_and_demo_pictures_are_found_and_nothing_else_is() -> None:
    assert any(file.name == "1-screens.toml" for file in shipped("presets").iterdir())
    assert shipped("demo_images").is_dir()
    with pytest.raises(CropperError, match="'no_such_folder' that comes with cropper is missing"):
        shipped("no_such_folder")
