"""A small file may ask for a great deal; it gets a sentence or a right result, soon and in little.

That no answer takes more than 20 seconds or 2 GB is what the hunt counts as a find.
"""

from __future__ import annotations

import io
import struct
from pathlib import Path

import pytest
from PIL import Image

from cropper.errors import MasterError
from cropper.master.limits import refuse_scans
from cropper.master.tiff_pages import MOST_PAGES, choose_page
from tests.fuzz.bombs import PICTURES, SIDECARS
from tests.fuzz.hunt import Input, hunt

REFUSED = {"sides.png", "sides.jpg", "sides.tif", "pages.tif", "endless.tif", "scans.jpg"}


def test_every_bomb_is_answered_in_time_and_in_little_memory() -> None:
    bombs = [("picture", name, make) for name, make in PICTURES.items()]
    bombs += [("sidecar", name, make) for name, make in SIDECARS.items()]

    went = hunt(Input(target, name, make()) for target, name, make in bombs)

    assert [find.what for find in went.finds] == []
    assert went.answers["picture", "refused"] == len(REFUSED)
    assert went.answers["picture", "value"] == len(PICTURES) - len(REFUSED)


@pytest.mark.parametrize("name", sorted(REFUSED))
def test_what_is_refused_is_refused_before_it_is_decoded(name: str, tmp_path: Path) -> None:
    from cropper.master.opening import open_master  # noqa: PLC0415

    (tmp_path / name).write_bytes(PICTURES[name]())
    with pytest.raises(MasterError, match=r"megapixels|pages|scans"):
        open_master(tmp_path / name)


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize("place", [0, 1, 15, 16, 2**40, 2**64 - 1])
def test_a_large_tiff_that_points_nowhere_is_left_to_the_decoder(order: str, place: int) -> None:
    mark = b"II+\0" if order == "<" else b"MM\0+"
    data = mark + struct.pack(order + "HHQ", 8, 0, place) + struct.pack(order + "Q", 2**64 - 1)
    choose_page(Path("large.tif"), io.BytesIO(data))


def test_pages_and_scans_as_people_use_them_are_no_bombs() -> None:
    file = io.BytesIO()
    page = Image.new("L", (4, 4))
    page.save(file, "TIFF", save_all=True, append_images=[page] * (MOST_PAGES // 20))
    choose_page(Path("layers.tif"), file)

    small = io.BytesIO()
    Image.effect_noise((90, 90), 60).save(small, "JPEG", progressive=True)
    thumbnail = b"\xff\xe1" + struct.pack(">H", 2 + 60_000) + b"\xff\xda" * 30_000
    data = small.getvalue()
    refuse_scans(Path("plain.jpg"), data[:2] + thumbnail + data[2:] + b"\xff\xda" * 5000)
