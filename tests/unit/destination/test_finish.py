"""What a preset's finish may ask, what it says in words, and what it cannot hold at once."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from cropper.destination.destination import Destination, Medium, Surround
from cropper.destination.explaining import sentences
from cropper.destination.presets import load_presets
from cropper.errors import PresetError
from cropper.geometry import WHOLE, Size
from cropper.master.spaces import SPACES

PAPER = "size_mm = [210, 297]\nppi = 300\n"
SCREEN = "size_px = [1200, 400]\n"
FOLD = "size_mm = [420, 297]\nppi = 300\ngutter = { at = 0.5, margin_mm = 12 }\n"
FOUR_INKS = bytes(16) + b"CMYK" + bytes(16) + b"acsp" + bytes(120)


def read(folder: Path, keys: str, finish: str, **files: bytes) -> Destination:
    """The one destination of a preset with these keys."""
    folder.mkdir(exist_ok=True)
    for name, content in files.items():
        (folder / f"{name}.icc").write_bytes(content)
    (folder / "mine.toml").write_text(f'[mine]\ntitle = "Mine"\n{keys}finish = {{ {finish} }}\n')
    return load_presets(folders=[folder]).choose(["mine"])[0]


@pytest.mark.parametrize(
    ("keys", "finish", "said"),
    [
        (SCREEN, 'format = "press-pdf"', "a press-pdf is paper"),
        (PAPER, 'format = "press-pdf", bit_depth = 16', "holds 8 bits"),
        (PAPER, 'format = "press-pdf", quality = 90', "keeps every pixel"),
        (PAPER, 'format = "press-pdf", medium = "canvas"', "a canvas is not printed"),
        (PAPER, 'format = "press-pdf", pages = 2', "two pages need a fold"),
        (PAPER, 'format = "press-pdf", pages = 3', "whole number 1 to 2"),
        (FOLD, 'format = "tiff", pages = 2', "only a press-pdf has pages"),
        (PAPER, "crop_marks = true", "only a press-pdf has crop marks"),
        (PAPER, 'format = "press-pdf", border_mm = 5', "filled to its bleed"),
        (PAPER + "bleed_mm = 3\n", "border_mm = 5", "does not go with bleed"),
        (PAPER, "border_mm = 105", "leaves no picture"),
        (PAPER, "border_px = 5", "paper is measured in mm"),
        (PAPER, 'border_mm = 5, border_in = "1/4"', "keep one of them"),
        (SCREEN, "border_mm = 5", "a screen has pixels"),
        (SCREEN, "border_px = 200", "leaves no picture"),
        (SCREEN + 'frame = "circle"\n', "border_px = 10", "a circle cuts a border off"),
        ('shape = "4:5"\n', "border_px = 10", "a border needs a size"),
        (SCREEN, 'border_px = 10, border_colour = "cream"', "not a colour such as"),
        (SCREEN, 'carry_on_backdrop = true, border_colour = "#ffffff"', "keep one of them"),
        (SCREEN, "carry_on_backdrop = true, border_px = 10", "keep one of them"),
        ("full_frame = true\n", "carry_on_backdrop = true", "a frame of stated size"),
        (PAPER + "bleed_mm = 3\n", 'border_colour = "#ffffff"', "cut unevenly"),
        (SCREEN, 'format = "png", progressive = true', "only jpeg"),
        (SCREEN, 'intent = "perceptual"', "about a printer's profile file"),
        (SCREEN, "black_point = false", "about a printer's profile file"),
        (SCREEN, 'intent = "vivid"', "none of 'perceptual'"),
        (SCREEN, 'format = "jpeg", bit_depth = 16', "holds 8 bits"),
        (PAPER, 'profile = "cut.icc"', "is broken"),
        (PAPER + 'wrap = "mirrored"\n', "", "state wrap_mm"),
        (PAPER + 'wrap_mm = 40\nwrap = "repeated"\n', "", "none of 'from the master'"),
        (PAPER + 'wrap_mm = 40\nwrap = "mirrored"\n', 'format = "press-pdf"', "make it a tiff"),
    ],
)
def test_a_finish_that_contradicts_itself_is_told_so(
    tmp_path: Path, keys: str, finish: str, said: str
) -> None:
    with pytest.raises(PresetError) as told:
        read(tmp_path / "mine", keys, finish, cut=FOUR_INKS)
    assert said in str(told.value)


def test_a_wrap_is_outside_the_crop_where_it_is_mirrored_and_bleed_where_it_is_not(
    tmp_path: Path,
) -> None:
    wrap = "size_mm = [400, 600]\nppi = 150\nwrap_mm = 40\n"
    mirrored = read(tmp_path / "a", wrap + 'wrap = "mirrored"\n', "")
    from_master = read(tmp_path / "b", wrap + 'wrap = "from the master"\n', "")
    assert from_master == replace(
        read(tmp_path / "c", wrap, ""), preset_file=from_master.preset_file
    )
    assert [mirrored.bleed_mm, from_master.bleed_mm] == [Fraction(0), Fraction(40)]
    assert mirrored.trim == WHOLE
    assert from_master.trim.x0 == Fraction(1, 12)
    # 480 x 680 mm at 150 ppi either way: the file that the printer is sent has one size.
    sizes = {
        one.finish.with_border(one.delivered) for one in (mirrored, from_master) if one.delivered
    }
    assert sizes == {Size(2835, 4016)}
    assert "The front shows all of the crop" in " ".join(sentences(mirrored))


def test_a_border_lies_inside_the_stated_size(tmp_path: Path) -> None:
    made = read(tmp_path / "a", SCREEN, 'border_px = 20, border_colour = "#F4F1EC"')
    assert made.delivered == Size(1160, 360)
    assert made.finish.with_border(Size(1160, 360)) == Size(1200, 400)
    assert made.shape.least == Fraction(1160, 360)
    said = " ".join(sentences(made))
    assert "1200 x 400 px" in said
    assert "A border of 20 px in #f4f1ec on every side" in said


def test_a_border_on_paper_keeps_the_paper_and_its_ppi(tmp_path: Path) -> None:
    made = read(tmp_path / "a", "size_in = [8, 10]\nppi = 300\n", 'border_in = "1/2"')
    assert made.delivered == Size(2100, 2700)
    assert made.width_in_inches() == 7
    assert made.finish.border_colour == "#ffffff"
    assert "On paper 8 x 10 in: a file of 2400 x 3000 px" in " ".join(sentences(made))


def test_a_press_pdf_is_a_hand_off_and_says_what_it_is(tmp_path: Path) -> None:
    made = read(tmp_path / "a", FOLD + "bleed_mm = 3\n", 'format = "press-pdf", pages = 2')
    assert made.finish.medium is Medium.PRESS_HAND_OFF
    assert not made.finish.sharpen
    assert "Two pages, parted at the fold" in " ".join(sentences(made))


def test_a_profile_file_brings_its_intent_and_its_digest(tmp_path: Path) -> None:
    wide = SPACES["rec2020"].profile
    finish = 'profile = "wide.icc", intent = "absolute"'
    made = read(tmp_path / "a", PAPER, finish, wide=wide)
    assert made.finish.intent == "absolute"
    assert not made.finish.black_point
    assert len(made.finish.profile_sha256) == 64
    said = " ".join(sentences(made))
    assert "profile wide.icc" in said
    assert "the absolute intent, without black point compensation" in said


def test_what_fills_a_frame_is_said(tmp_path: Path) -> None:
    carried = read(tmp_path / "a", SCREEN, "carry_on_backdrop = true")
    coloured = read(tmp_path / "b", SCREEN, 'border_colour = "#808080"')
    assert carried.finish.fill is Surround.BACKDROP
    assert coloured.finish.fill is Surround.BORDER
    assert "its backdrop is carried on" in " ".join(sentences(carried))
    assert "the rest is #808080" in " ".join(sentences(coloured))
