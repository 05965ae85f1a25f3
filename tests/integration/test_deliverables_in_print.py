"""The press PDF, borders and carried-on backdrops, read back by independent readers."""

from __future__ import annotations

import io
import shutil
import struct
import subprocess
import tempfile
from dataclasses import replace
from datetime import UTC, datetime
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import pyvips
from PIL import Image
from pypdf import PdfReader

from cropper.deliverable.conversion import converted_out, target_of
from cropper.deliverable.ink import ink_of
from cropper.deliverable.preflight import preflight
from cropper.deliverable.press_pdf import Layout, laid_out, press_pdf, registered_name
from cropper.deliverable.rendering import Rendered
from cropper.deliverable.surrounds import Edge, bordered, extended, plainness
from cropper.deliverable.words import Words
from cropper.errors import DeliveryError
from cropper.geometry import Size
from cropper.master.spaces import SPACES
from tests.reference import floats

A4 = (Fraction(210), Fraction(297))
SPREAD = (Fraction(420), Fraction(297))
BLEED = Fraction(3)


def made(width: int, height: int, *, backdrop: float | None = None) -> Rendered:
    """A rendered picture; with ``backdrop`` a plain grey one with a dark figure in its middle."""
    if backdrop is None:
        pixels = floats.scene(width, height)
    else:
        pixels = np.empty((height, width, 3), np.uint8)
        rng = np.random.default_rng(2)
        pixels[:] = np.clip(rng.normal(backdrop, 1.2, (height, width, 1)), 0, 255)
        pixels[height // 3 :, width // 3 : 2 * width // 3] = 40
    return Rendered(
        pixels=pixels,
        size=Size(width, height),
        enlargement=1.0,
        ppi=100.0,
        profile=SPACES["srgb"].profile,
        profile_name=SPACES["srgb"].title,
        out_of_gamut=0.0,
        notes=(),
    )


def test_the_boxes_of_a_page_are_the_published_ones() -> None:
    # reference pdf_boxes: A4 trim 595.276 x 841.89, with 3 mm bleed 612.283 x 858.898 pt
    pdf = PdfReader(io.BytesIO(press_pdf(made(850, 1193), page_mm=A4, bleed_mm=BLEED)))
    page = pdf.pages[0]
    assert [float(v) for v in page.mediabox] == pytest.approx([0, 0, 612.283, 858.898], abs=0.01)
    assert page.bleedbox == page.mediabox
    assert [float(v) for v in page.trimbox] == pytest.approx(
        [8.504, 8.504, 603.78, 850.394], abs=0.01
    )


def test_a_spread_may_be_two_pages_that_share_the_picture() -> None:
    data = press_pdf(made(852, 606), page_mm=SPREAD, bleed_mm=BLEED, pages=2)
    pages = PdfReader(io.BytesIO(data)).pages
    assert len(pages) == 2
    for page in pages:
        assert float(page.trimbox.width) == pytest.approx(595.276, abs=0.01)
        assert float(page.mediabox.width) == pytest.approx(612.283, abs=0.01)
    assert len(data) < 1.5 * len(press_pdf(made(852, 606), page_mm=SPREAD, bleed_mm=BLEED))


def test_the_words_are_in_it() -> None:
    words = Words(creator="R. Quillfeather", headline="Wool — żółć")
    data = press_pdf(made(850, 1193), page_mm=A4, bleed_mm=BLEED, words=words)
    pdf = PdfReader(io.BytesIO(data))
    assert pdf.metadata is not None
    assert pdf.metadata.title == "Wool — żółć"
    assert pdf.xmp_metadata is not None
    assert pdf.xmp_metadata.dc_creator == ["R. Quillfeather"]


@pytest.mark.skipif(shutil.which("gs") is None, reason="no renderer on this machine")
def test_an_independent_renderer_shows_the_picture_on_both_pages(tmp_path: Path) -> None:
    picture = made(852, 606)
    path = tmp_path / "spread.pdf"
    path.write_bytes(press_pdf(picture, page_mm=SPREAD, bleed_mm=BLEED, pages=2))
    subprocess.run(
        [
            *("gs", "-q", "-dSAFER", "-dBATCH", "-dNOPAUSE", "-sDEVICE=png16m", "-r50.8"),
            f"-sOutputFile={tmp_path}/page%d.png",
            str(path),
        ],
        check=True,
    )
    for number, left in ((1, 0), (2, 420)):
        seen = np.asarray(Image.open(tmp_path / f"page{number}.png").convert("RGB")).astype(float)
        wanted = picture.pixels[:, left : left + seen.shape[1]].astype(float)
        height = min(len(seen), len(wanted))
        assert np.abs(seen[:height] - wanted[:height]).mean() < 12


def test_a_picture_without_its_bleed_is_refused() -> None:
    with pytest.raises(DeliveryError, match="has not the shape"):
        press_pdf(made(500, 500), page_mm=A4, bleed_mm=BLEED)


def test_a_border_has_the_stated_colour_and_the_picture_is_untouched() -> None:
    picture = made(200, 120)
    framed = bordered(picture, Size(240, 180), "#F4F1EC")
    assert framed.size == Size(240, 180)
    assert tuple(framed.pixels[0, 0]) == (0xF4, 0xF1, 0xEC)
    assert np.array_equal(framed.pixels[30:150, 20:220], picture.pixels)
    sides = "left 20, top 30, right 20, bottom 30 px"
    assert f"a border in #f4f1ec was added, {sides}: 240 x 180 px" in framed.notes
    with pytest.raises(DeliveryError, match="not a colour"):
        bordered(picture, Size(240, 180), "cream")
    with pytest.raises(DeliveryError, match="does not fit"):
        bordered(picture, Size(100, 100), "#ffffff")


@pytest.mark.parametrize("edge", [Edge.TOP, Edge.LEFT, Edge.RIGHT])
def test_a_plain_backdrop_is_carried_on_without_a_seam(edge: Edge) -> None:
    picture = made(400, 300, backdrop=150)
    grown = extended(picture, edge, 60)
    added = grown.pixels.size - picture.pixels.size
    assert added == 60 * (400 if edge is Edge.TOP else 300) * 3
    new = {
        Edge.TOP: grown.pixels[:60],
        Edge.LEFT: grown.pixels[:, :60],
        Edge.RIGHT: grown.pixels[:, -60:],
    }[edge]
    assert abs(float(new.mean()) - 150) < 1
    assert 0.7 < float(new.std()) / 1.2 < 1.3  # the grain goes on too
    assert any(f"past the {edge} edge" in note for note in grown.notes)


def test_an_edge_with_a_body_on_it_is_refused() -> None:
    picture = made(400, 300, backdrop=150)
    assert not plainness(picture, Edge.BOTTOM).plain
    with pytest.raises(DeliveryError, match="not plain"):
        extended(picture, Edge.BOTTOM, 60)


def test_wool_is_not_a_backdrop() -> None:
    with pytest.raises(DeliveryError, match="not plain"):
        extended(made(400, 300), Edge.BOTTOM, 10)


CMYK_PROFILE = bytes(pyvips.Image.profile_load("cmyk"))
"""A generic press profile that the imaging library brings along."""


def separated(width: int, height: int) -> Rendered:
    """A picture in four inks, a printer's profile inside."""
    path = tempfile.NamedTemporaryFile(suffix=".icc", delete=False)  # noqa: SIM115
    path.write(CMYK_PROFILE)
    path.close()
    target = target_of(path.name)
    scene = floats.scene(width, height).astype(np.uint16) * 257
    Path(path.name).unlink()
    pixels = converted_out(scene.astype(np.uint16), target, 8)
    return replace(made(width, height), pixels=pixels, profile=CMYK_PROFILE, profile_name="Press")


def test_a_screens_profile_is_never_an_output_intent() -> None:
    rgb = PdfReader(io.BytesIO(press_pdf(made(850, 1193), page_mm=A4, bleed_mm=BLEED)))
    root: Any = rgb.trailer["/Root"]
    assert "/OutputIntents" not in root
    press = PdfReader(io.BytesIO(press_pdf(separated(850, 1193), page_mm=A4, bleed_mm=BLEED)))
    root = press.trailer["/Root"]
    (intent,) = root["/OutputIntents"]
    assert intent["/OutputConditionIdentifier"] == "Custom"
    assert intent["/DestOutputProfile"].get_data() == CMYK_PROFILE


def test_a_registered_condition_is_named_by_its_registry_name() -> None:
    assert registered_name(CMYK_PROFILE) == ""
    targ = b"text" + bytes(4) + b"ICCHDAT ANYCONDITION7\0"
    tag = struct.pack(">4sII", b"targ", 144, len(targ))
    profile = bytes(128) + struct.pack(">I", 1) + tag + targ
    assert registered_name(profile) == "ANYCONDITION7"


def test_the_document_says_when_by_what_and_that_it_is_not_trapped() -> None:
    before = datetime.now(UTC).replace(microsecond=0)
    data = press_pdf(made(850, 1193), page_mm=A4, bleed_mm=BLEED)
    pdf = PdfReader(io.BytesIO(data))
    info, packet = pdf.metadata, pdf.xmp_metadata
    assert info is not None
    assert packet is not None
    assert info.creation_date is not None
    assert before <= info.creation_date <= datetime.now(UTC)
    assert info.creation_date == info.modification_date
    assert str(info.producer).startswith("cropper ")
    assert str(info["/Trapped"]) == "/False"
    assert packet.xmp_create_date == info.creation_date.replace(tzinfo=None)  # it tells UTC
    assert packet.pdf_producer == info.producer


@pytest.mark.parametrize(
    ("channels", "space", "black"),
    [(1, "/DeviceGray", [0]), (3, "/DeviceRGB", [0, 0, 0]), (4, "/DeviceCMYK", [1, 1, 1, 1])],
)
def test_marks_are_black_in_the_colours_of_the_picture(
    channels: int, space: str, black: list[int]
) -> None:
    whole = separated(850, 1193) if channels == 4 else made(850, 1193)
    whole = replace(whole, pixels=np.ascontiguousarray(whole.pixels[:, :, :channels]))
    layout = Layout(page_mm=A4, bleed_mm=BLEED, marks=True)
    page: Any = PdfReader(io.BytesIO(laid_out(whole, layout))).pages[0]
    _, name, alternate, tint = page["/Resources"]["/ColorSpace"]["/All"]
    assert (name, alternate) == ("/All", space)
    assert [float(one) for one in tint.get_object()["/C1"]] == black


def test_ink_is_measured_against_what_the_profile_makes(tmp_path: Path) -> None:
    path = tmp_path / "press.icc"
    path.write_bytes(CMYK_PROFILE)
    target = target_of(str(path))
    picture = separated(200, 150)
    ink = ink_of(picture.pixels, target)
    assert ink is not None
    assert ink.most == pytest.approx(100 * picture.pixels.sum(axis=2).max() / 255)
    assert 200 < ink.limit <= 400
    assert not ink.too_much
    flooded = np.full((4, 4, 4), 255, np.uint8)
    full = ink_of(flooded, target)
    assert full is not None
    assert full.too_much
    assert "more than it allows" in full.sentence()
    assert ink_of(made(20, 20).pixels, target_of("srgb")) is None


def test_the_preflight_says_what_other_readers_find() -> None:
    layout = Layout(page_mm=SPREAD, bleed_mm=BLEED, pages=2, marks=True)
    said = preflight(laid_out(separated(1000, 711), layout))
    text = "\n".join(said)
    assert said[0] == "2 pages."
    assert "Page 1: trimmed to 210 x 297 mm." in said
    assert "Page 1: bleed 3 mm left, 3 mm top, 3 mm right, 3 mm bottom." in said
    assert "Page 2: no fonts: there is no type in it." in said
    assert "59.6 px per inch as placed" in text  # 1000 px on 426 mm
    assert "total ink up to" in text
    assert "Output intent: Press (Custom, not registered)." in said
    assert "Trapped: no." in said
    assert said[-1] == "No PDF/X level is claimed."
    plain = preflight(press_pdf(made(850, 1193), page_mm=A4, bleed_mm=BLEED))
    assert "No output intent: the printer has to be asked for theirs." in plain
