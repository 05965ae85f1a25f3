"""The press PDF, borders and carried-on backdrops, read back by independent readers."""

from __future__ import annotations

import io
import shutil
import subprocess
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from pypdf import PdfReader

from cropper.deliverable.press_pdf import press_pdf
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


def test_the_output_intent_and_the_words_are_in_it() -> None:
    words = Words(creator="R. Quillfeather", headline="Wool — żółć")
    data = press_pdf(made(850, 1193), page_mm=A4, bleed_mm=BLEED, words=words)
    pdf = PdfReader(io.BytesIO(data))
    intent = pdf.trailer["/Root"]["/OutputIntents"][0].get_object()  # type: ignore[index]
    assert intent["/DestOutputProfile"].get_object().get_data() == SPACES["srgb"].profile
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
