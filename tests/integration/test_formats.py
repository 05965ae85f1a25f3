"""The table of formats: what is in it can be delivered, what is not is an error."""

from __future__ import annotations

import io
import mimetypes
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from cropper.deliverable.delivering import Order, deliver_all
from cropper.deliverable.naming import file_name
from cropper.deliverable.ways import WRITERS, Wanted, Way
from cropper.destination.destination import Destination, Finish, ShapeRange
from cropper.destination.finishing import finish_of
from cropper.destination.formats import FORMATS, Format, format_named, pixel_formats
from cropper.destination.schema import DestinationTable
from cropper.errors import DeliveryError
from cropper.geometry import Crop, PixelBox, Size
from cropper.master.opening import open_master

SHAPE = ShapeRange(Fraction(4, 3), Fraction(4, 3))


def post(kind: str) -> Destination:
    finish = Finish(format=kind)
    return Destination(
        name="post", title="Post", shape=SHAPE, delivered=Size(40, 30), finish=finish
    )


def table(kind: str) -> DestinationTable:
    return DestinationTable.model_validate(
        {"title": "Post", "size_px": [40, 30], "finish": {"format": kind}}
    )


def ppm(way: Way, _: Wanted) -> bytes:
    """A portable pixmap, whose only fields are its size."""
    size = way.rendered.size
    head = f"P6 {size.width} {size.height} 255\n"
    return head.encode() + way.rendered.pixels.tobytes()


@pytest.fixture
def master(tmp_path: Path) -> Path:
    path = tmp_path / "wool.png"
    rng = np.random.default_rng(2)
    Image.fromarray(rng.integers(60, 200, (60, 80, 3)).astype(np.uint8)).save(path)
    return path


def delivered(master: Path, kind: str) -> tuple[bytes, DeliveryError | None]:
    order = Order(crop=Crop(PixelBox(0, 0, 80, 60)), destination=post(kind))
    (made,) = deliver_all(open_master(master), [order])
    return made.data, made.fault


def test_a_row_and_a_writer_make_a_format_and_without_them_it_is_an_error(
    master: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    row = Format(name="pixmap", ending="ppm", media_type="image/x-portable-pixmap")
    with monkeypatch.context() as added:
        added.setitem(FORMATS, "pixmap", row)
        added.setitem(WRITERS, "pixmap", ppm)
        assert finish_of(table("pixmap")).quality == 100
        data, fault = delivered(master, "pixmap")
        assert fault is None
        with Image.open(io.BytesIO(data)) as picture:
            assert (picture.format, picture.size) == ("PPM", (40, 30))
        name = file_name(post("pixmap"), version="a", master="a", size=Size(40, 30))
        assert name.endswith(".ppm")
    data, fault = delivered(master, "pixmap")
    assert data == b""
    assert "there is no format called 'pixmap'" in str(fault)
    with pytest.raises(ValueError, match="'pixmap' is none of 'jpeg'"):
        table("pixmap")


def test_a_row_without_a_writer_is_an_error_not_another_format(
    master: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    row = Format(name="jxl", ending="jxl", media_type="image/jxl", least_quality=50)
    monkeypatch.setitem(FORMATS, "jxl", row)
    data, fault = delivered(master, "jxl")
    assert data == b""
    assert "jxl is no format of pixels" in str(fault)


def test_every_row_says_what_the_world_calls_it() -> None:
    assert set(pixel_formats()) == set(WRITERS)
    for one in FORMATS.values():
        known = mimetypes.guess_type(f"a.{one.ending}")[0]
        assert known in {one.media_type, None}
        assert one.lossy is bool(one.chroma)
    with pytest.raises(DeliveryError, match="no format called 'bmp'"):
        format_named("bmp")
