"""Previews: one decode per master, no larger than needed, showing just the crop."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from cropper.errors import MasterError
from cropper.geometry import Crop, PixelBox
from cropper.proof.entry import Sheet
from cropper.proof.making import proofs
from cropper.proof.previews import MASTER_LONG_PX, SHOWN_LONG_PX, album


def test_a_master_is_decoded_once(sheet: Sheet) -> None:
    master, asked = sheet.masters[0], []

    def counting(longest: int) -> Image.Image:
        asked.append(longest)
        return master.picture(longest)

    album(replace(master, picture=counting), "m")
    assert len(asked) == 1


def test_a_wide_crop_is_shown_from_the_master_and_a_tight_one_from_its_own(sheet: Sheet) -> None:
    master = sheet.masters[0]
    entry = master.entries[0]
    wide, tight = PixelBox(60, 90, 1140, 1440), PixelBox(400, 400, 912, 1040)
    first, second = entry.answer.proposals
    proposals = (replace(first, crop=Crop(tight)), replace(second, crop=Crop(wide)))
    entry = replace(entry, answer=replace(entry.answer, proposals=proposals))
    made = album(replace(master, entries=(entry,)), "m")
    assert made.showing(Crop(wide)) is made.whole
    own = made.showing(Crop(tight))
    assert own.box == tight
    size = Image.open(io.BytesIO(own.jpeg)).size
    assert max(size) == SHOWN_LONG_PX
    assert max(Image.open(io.BytesIO(made.whole.jpeg)).size) == MASTER_LONG_PX


def test_a_tight_crop_shows_the_pixels_of_its_box(sheet: Sheet) -> None:
    master = sheet.masters[0]
    entry = master.entries[0]
    tight = PixelBox(380, 500, 480, 600)
    proposals = (replace(entry.answer.proposals[0], crop=Crop(tight)),)
    entry = replace(entry, answer=replace(entry.answer, proposals=proposals))
    own = album(replace(master, entries=(entry,)), "m").showing(Crop(tight))
    seen = np.asarray(Image.open(io.BytesIO(own.jpeg)), dtype=int)
    whole = np.asarray(master.picture(1500), dtype=int)[500:600, 380:480]
    assert seen.shape == whole.shape
    assert np.abs(seen - whole).mean() < 4


def test_one_master_that_cannot_be_opened_does_not_stop_the_others(sheet: Sheet) -> None:
    def broken(longest: int) -> Image.Image:
        raise MasterError(f"cut short at {longest}")

    first, second = sheet.masters
    made = proofs(replace(sheet, masters=(replace(first, picture=broken), second)), pdf=False)
    assert made.html is not None
    assert made.pdf is None
    assert [file for file, _ in made.not_shown] == ["roll-neck.jpg"]
    assert b"cut short" in made.html
    with pytest.raises(MasterError):
        proofs(replace(sheet, masters=(replace(first, picture=broken),)))
