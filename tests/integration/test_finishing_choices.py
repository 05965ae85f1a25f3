"""Finishing choices from a preset to the file, looked at by independent readers."""

from __future__ import annotations

import io
import re
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image, ImageCms
from pypdf import PdfReader
from skimage.color import deltaE_ciede2000

from cropper.deliverable.delivering import Finished, Order, deliver_all
from cropper.deliverable.gamut import VISIBLE, delta_e
from cropper.deliverable.words import Words
from cropper.destination.presets import load_presets
from cropper.geometry import Crop, PixelBox
from cropper.master.opening import Master, open_master
from cropper.master.spaces import SPACES
from tests.reference import floats
from tests.reference.test_colour import SHARMA

PRESS = Path("/usr/share/color/icc/ghostscript/default_cmyk.icc")
needs_press = pytest.mark.skipif(not PRESS.exists(), reason="no CMYK profile on this machine")
MARKED = Words(creator="R. Quillfeather", headline="Wool & light")
Make = Callable[..., Finished]


@pytest.fixture(scope="module")
def master(tmp_path_factory: pytest.TempPathFactory) -> Master:
    """A figure before a softly lit grey backdrop, invented."""
    rng = np.random.default_rng(4)
    y, x = np.mgrid[0:600, 0:480]
    codes = 140 + y / 60 + x / 96 + rng.normal(0, 1.2, (600, 480))
    picture = np.repeat(codes[:, :, np.newaxis], 3, axis=2)
    picture[150:, 140:340] = floats.scene(200, 450)
    path = tmp_path_factory.mktemp("masters") / "ilse.png"
    Image.fromarray(np.clip(np.rint(picture), 0, 255).astype(np.uint8)).save(
        path, icc_profile=SPACES["rec2020"].profile
    )
    return open_master(path)


@pytest.fixture
def make(tmp_path: Path, master: Master) -> Make:
    def one(keys: str, finish: str, box: tuple[int, int, int, int]) -> Finished:
        folder = tmp_path / "presets"
        folder.mkdir(exist_ok=True)
        if PRESS.exists():
            shutil.copy(PRESS, folder / "press.icc")
        table = f'[mine]\ntitle = "Mine"\n{keys}finish = {{ {finish} }}\n'
        (folder / "mine.toml").write_text(table)
        (destination,) = load_presets(folders=[folder]).choose(["mine"])
        crop = Crop(PixelBox(*box))
        (done,) = deliver_all(master, [Order(crop=crop, destination=destination, words=MARKED)])
        return done

    return one


def boxes_by_pdfinfo(path: Path) -> dict[str, list[float]]:
    if shutil.which("pdfinfo") is None:
        pytest.skip("pdfinfo is not installed")
    told = subprocess.run(
        ["pdfinfo", "-box", "-l", "2", str(path)], check=True, capture_output=True, text=True
    ).stdout
    found = re.findall(r"(\w+Box):\s+([\d. -]+)", told)
    return {name: [float(one) for one in values.split()] for name, values in found}


def test_a_press_pdf_comes_from_a_preset_alone(make: Make, tmp_path: Path) -> None:
    # A6 is 105 x 148 mm (ISO 216); points are mm / 25.4 x 72 (ISO 32000-2, 8.3.2.3)
    keys = "size_mm = [105, 148]\nbleed_mm = 3\nppi = 72\nleast_ppi = 50\n"
    done = make(keys, 'format = "press-pdf"', (20, 0, 452, 600))
    assert done.fault is None, done.fault
    assert (done.pages, done.quality) == (1, 100)
    path = tmp_path / "a.pdf"
    path.write_bytes(done.data)
    found = boxes_by_pdfinfo(path)
    assert found["MediaBox"] == found["BleedBox"] == pytest.approx([0, 0, 314.65, 436.54], abs=0.01)
    assert found["TrimBox"] == pytest.approx([8.50, 8.50, 306.14, 428.03], abs=0.01)
    pdf = PdfReader(io.BytesIO(done.data))
    assert pdf.metadata is not None
    assert pdf.metadata.author == "R. Quillfeather"
    root: Any = pdf.trailer["/Root"]
    assert "/OutputIntents" not in root  # a screen's profile is no printing condition
    assert any("no output intent" in note for note in done.notes)
    assert b"GTS_PDFXVersion" not in done.data  # no level is claimed


def test_crop_marks_lie_outside_the_bleed_and_move_nothing_else(make: Make, tmp_path: Path) -> None:
    keys = "size_mm = [105, 148]\nbleed_mm = 3\nppi = 72\nleast_ppi = 50\n"
    done = make(keys, 'format = "press-pdf", crop_marks = true', (20, 0, 452, 600))
    path = tmp_path / "a.pdf"
    path.write_bytes(done.data)
    found = boxes_by_pdfinfo(path)
    assert found["TrimBox"][2] - found["TrimBox"][0] == pytest.approx(297.64, abs=0.011)
    assert found["BleedBox"][2] - found["BleedBox"][0] == pytest.approx(314.65, abs=0.011)
    assert found["MediaBox"][0] < found["BleedBox"][0]
    if shutil.which("gs") is None:
        pytest.skip("no renderer on this machine")
    subprocess.run(
        [
            *("gs", "-q", "-dSAFER", "-dBATCH", "-dNOPAUSE", "-sDEVICE=pnggray", "-r144"),
            f"-sOutputFile={tmp_path}/a.png",
            str(path),
        ],
        check=True,
    )
    seen = np.asarray(Image.open(tmp_path / "a.png"))
    inked = np.flatnonzero(seen[4] < 250) / 2  # along the top: where marks stand, in points
    assert inked.min() == pytest.approx(found["TrimBox"][0], abs=1)
    assert inked.max() == pytest.approx(found["TrimBox"][2], abs=1)


def test_a_spread_is_parted_at_its_fold_and_repeats_its_strip(make: Make) -> None:
    keys = (
        "size_mm = [148, 105]\nbleed_mm = 3\nppi = 72\nleast_ppi = 50\n"
        "gutter = { at = 0.4, margin_mm = 5, strip_mm = 10 }\n"
    )
    done = make(keys, 'format = "press-pdf", pages = 2', (0, 0, 480, 346))
    assert done.pages == 2
    pages = PdfReader(io.BytesIO(done.data)).pages
    wide = [float(page.trimbox.width) for page in pages]
    assert wide == pytest.approx([148 * 0.4 / 25.4 * 72, 148 * 0.6 / 25.4 * 72], abs=0.01)
    # half the strip, 5 mm, at the fold; 3 mm at the outer edge
    beyond = [float(pages[0].bleedbox.right - pages[0].trimbox.right)]
    beyond += [float(pages[1].trimbox.left - pages[1].bleedbox.left)]
    assert beyond == pytest.approx([14.173, 14.173], abs=0.01)
    assert float(pages[0].trimbox.left) == pytest.approx(8.504, abs=0.01)


@needs_press
@pytest.mark.parametrize("kind", ["tiff", "jpeg", "press-pdf"])
def test_a_printers_profile_goes_all_the_way(make: Make, kind: str) -> None:
    keys = "size_mm = [105, 148]\nppi = 72\nleast_ppi = 50\n"
    done = make(keys, f'format = "{kind}", profile = "press.icc"', (20, 0, 445, 600))
    assert done.fault is None, done.fault
    assert done.out_of_gamut is not None
    assert 0.02 < done.out_of_gamut < 0.9  # the scene holds pure codes of a wide space
    assert any("is printed as the nearest it holds" in note for note in done.notes)
    if kind == "press-pdf":
        image: Any = PdfReader(io.BytesIO(done.data)).pages[0].images[0].image
    else:
        image = Image.open(io.BytesIO(done.data))
        assert image.info["icc_profile"] == PRESS.read_bytes()
    assert image.mode == "CMYK"


@needs_press
def test_intents_and_black_points_differ(make: Make) -> None:
    keys = "size_mm = [105, 148]\nppi = 72\nleast_ppi = 50\n"
    files = [
        make(keys, f'format = "tiff", profile = "press.icc"{more}', (20, 0, 445, 600)).data
        for more in ("", ', intent = "absolute"', ", black_point = false")
    ]
    assert len(set(files)) == 3


@needs_press
def test_a_profile_changed_after_planning_is_refused(master: Master, tmp_path: Path) -> None:
    shutil.copy(PRESS, tmp_path / "press.icc")
    (tmp_path / "mine.toml").write_text(
        '[mine]\ntitle = "Mine"\nsize_px = [48, 60]\n'
        'finish = { format = "tiff", profile = "press.icc" }\n'
    )
    (destination,) = load_presets(folders=[tmp_path]).choose(["mine"])
    with (tmp_path / "press.icc").open("ab") as file:
        file.write(b"more")
    order = Order(crop=Crop(PixelBox(0, 0, 480, 600)), destination=destination)
    (done,) = deliver_all(master, [order])
    assert "changed after it was planned" in str(done.fault)


@needs_press
def test_littlecms_agrees_on_what_a_press_cannot_hold(make: Make, master: Master) -> None:
    # outside values: the way there and back through littleCMS by way of Pillow, 8 bit, and
    # scikit-image's CIEDE2000; edges and grain are reduced otherwise here, so a tenth is forgiven
    keys = "size_mm = [105, 148]\nppi = 72\nleast_ppi = 50\n"
    done = make(keys, 'format = "tiff", profile = "press.icc"', (0, 0, 425, 600))
    picture = Image.open(master.path).crop((0, 0, 425, 600))
    wide = ImageCms.ImageCmsProfile(io.BytesIO(SPACES["rec2020"].profile))
    lab = ImageCms.createProfile("LAB")
    ways: dict[str, Any] = {"renderingIntent": ImageCms.Intent.RELATIVE_COLORIMETRIC}
    ways["flags"] = ImageCms.Flags.BLACKPOINTCOMPENSATION
    press: Any = ImageCms.profileToProfile(picture, wide, str(PRESS), outputMode="CMYK", **ways)
    back: Any = ImageCms.profileToProfile(press, str(PRESS), wide, outputMode="RGB", **ways)
    seen = [
        lab_of(ImageCms.profileToProfile(one, wide, lab, outputMode="LAB"))
        for one in (picture, back)
    ]
    measured: Any = deltaE_ciede2000
    off = np.asarray(measured(*seen)) > VISIBLE
    assert done.out_of_gamut == pytest.approx(float(off.mean()), abs=0.1)


def lab_of(picture: Any) -> Any:
    """Pillow's 8-bit LAB as numbers: a and b are signed bytes."""
    codes = np.asarray(picture)
    signed = codes[:, :, 1:].view(np.int8).astype(float)
    return np.dstack((codes[:, :, 0] / 2.55, signed))


def test_the_34_published_pairs_of_ciede2000() -> None:
    rows = np.array([[float(v) for v in row.split()] for row in SHARMA.strip().splitlines()])
    assert len(rows) == 34
    assert np.allclose(delta_e(rows[:, :3], rows[:, 3:6]), rows[:, 6], atol=5e-5)


def test_a_border_is_in_the_file_and_told(make: Make) -> None:
    finish = 'format = "png", border_px = 30, border_colour = "#f4f1ec"'
    done = make("size_px = [360, 440]\n", finish, (40, 60, 340, 440))
    seen = np.asarray(Image.open(io.BytesIO(done.data)).convert("RGB"))
    assert seen.shape == (440, 360, 3)
    assert (seen[:30] == (0xF4, 0xF1, 0xEC)).all()
    assert (seen[:, -30:] == (0xF4, 0xF1, 0xEC)).all()
    assert done.surround is not None
    assert done.surround.mapping() == {
        "kind": "border",
        "left": 30,
        "top": 30,
        "right": 30,
        "bottom": 30,
        "colour": "#f4f1ec",
    }


def test_a_backdrop_is_carried_on_past_the_master_and_told(make: Make) -> None:
    keys = "size_px = [480, 320]\n"
    done = make(keys, 'format = "png", carry_on_backdrop = true', (-120, 0, 480, 400))
    assert done.fault is None, done.fault
    assert done.surround is not None
    assert done.surround.mapping()["left"] == 96  # 120 master px at .8
    assert done.surround.kind == "backdrop"
    assert any("carried on by 96 px past the left edge" in note for note in done.notes)
    seen = np.asarray(Image.open(io.BytesIO(done.data)).convert("RGB")).astype(float)
    before, after = seen[:, 80:96].mean(axis=(1, 2)), seen[:, 96:112].mean(axis=(1, 2))
    assert np.abs(before - after).mean() < 1.5  # no seam
    again = make(keys, 'format = "png", carry_on_backdrop = true', (-120, 0, 480, 400))
    assert again.data == done.data


@pytest.mark.parametrize(
    ("box", "said"),
    [
        ((0, 300, 480, 620), "not plain"),  # a body on the lower edge
        ((-1200, 0, 480, 1120), "of the frame would be photographed"),
    ],
)
def test_a_backdrop_that_cannot_be_carried_on_is_refused_with_figures(
    make: Make, box: tuple[int, int, int, int], said: str
) -> None:
    done = make("size_px = [240, 160]\n", "carry_on_backdrop = true", box)
    assert done.fault is not None
    assert said in str(done.fault)
    assert re.search(r"\d", str(done.fault))


def test_a_colour_fills_what_the_master_does_not(make: Make) -> None:
    finish = 'format = "png", border_colour = "#808080"'
    done = make("size_px = [480, 320]\n", finish, (-60, 0, 540, 400))
    seen = np.asarray(Image.open(io.BytesIO(done.data)).convert("RGB"))
    assert (seen[:, :48] == 128).all()
    assert (seen[:, -48:] == 128).all()
    assert done.surround is not None
    assert (done.surround.left, done.surround.right, done.surround.top) == (48, 48, 0)


def test_without_leave_a_crop_past_the_master_is_refused(make: Make) -> None:
    assert make("size_px = [480, 320]\n", "", (-60, 0, 540, 400)).fault is not None


@pytest.mark.parametrize(("kind", "cap"), [("jpeg", 11_000), ("webp", 9_500), ("avif", 7_000)])
def test_a_cap_is_met_at_the_best_quality(make: Make, kind: str, cap: int) -> None:
    box = (0, 0, 480, 600)
    done = make("size_px = [240, 300]\n", f'format = "{kind}", byte_cap = {cap}', box)
    assert done.fault is None, done.fault
    assert len(done.data) <= cap
    assert any(f"quality {done.quality} instead of 90" in note for note in done.notes)
    chroma = "" if kind == "webp" else ', chroma = "4:2:0"'
    more = ", progressive = true" if kind == "jpeg" else ""
    better = make(
        "size_px = [240, 300]\n",
        f'format = "{kind}", quality = {done.quality + 1}{chroma}{more}',
        box,
    )
    assert len(better.data) > cap


def test_a_cap_that_cannot_be_met_offers_pixels_that_do_fit(make: Make) -> None:
    box = (0, 0, 480, 600)
    done = make("size_px = [480, 600]\n", "byte_cap = 9000", box)
    offered = re.search(r"About (\d+) x (\d+) px would fit", str(done.fault))
    assert offered is not None
    size = f"size_px = [{offered[1]}, {offered[2]}]\n"
    assert make(size, "byte_cap = 9000", box).fault is None


def test_progressive_is_a_choice(make: Make) -> None:
    files = [
        make("size_px = [240, 300]\n", finish, (0, 0, 480, 600)).data
        for finish in ("", "progressive = false")
    ]
    seen: list[Any] = [Image.open(io.BytesIO(one)) for one in files]
    assert [bool(one.info.get("progressive")) for one in seen] == [True, False]
    assert len(files[0]) < len(files[1])


@pytest.mark.usefixtures("looker")
def test_a_job_goes_from_a_preset_to_pages_in_four_inks(
    run: Any, draw: Any, tmp_path: Path
) -> None:
    if not PRESS.exists():
        pytest.skip("no CMYK profile on this machine")
    own = tmp_path / "own"
    own.mkdir()
    shutil.copy(PRESS, own / "printer.icc")
    (own / "own.toml").write_text(
        '[leaflet]\ntitle = "Leaflet"\nsize_mm = [30, 40]\nbleed_mm = 3\nppi = 150\n'
        "least_ppi = 30\n"
        'finish = { format = "press-pdf", profile = "printer.icc", intent = "perceptual" }\n'
    )
    job = tmp_path / "job"
    run("plan", draw("ilse.jpg"), "--for", "leaflet", "--presets", own, "--job", job)
    assert run("export", "--job", job).exit_code == 0
    (file,) = (job / "deliverables").glob("*.pdf")
    (page,) = PdfReader(file).pages
    assert page.images[0].image.mode == "CMYK"  # type: ignore[union-attr]
    assert float(page.trimbox.width) == pytest.approx(30 / 25.4 * 72, abs=0.01)


@pytest.mark.parametrize("format_", ["tiff", "png"])
def test_a_mirrored_wrap_repeats_what_lies_beside_the_front_and_leaves_the_front_alone(
    make: Make, format_: str
) -> None:
    # 40 x 60 mm with 5 mm of wrap, 254 ppi: 10 px to the mm.
    keys = "size_mm = [40, 60]\nppi = 254\nleast_ppi = 50\n"
    front = pixels(make(keys, f'format = "{format_}"', (40, 0, 440, 600)))
    done = make(
        keys + 'wrap_mm = 5\nwrap = "mirrored"\n', f'format = "{format_}"', (40, 0, 440, 600)
    )
    whole = pixels(done)
    assert front.shape == (600, 400, 3)
    assert whole.shape == (700, 500, 3)
    assert np.array_equal(whole[50:-50, 50:-50], front)
    for step in (1, 2, 25, 50):  # as far outside the fold as inside it
        assert np.array_equal(whole[50 - step], whole[49 + step])
        assert np.array_equal(whole[-51 + step], whole[-50 - step])
        assert np.array_equal(whole[:, 50 - step], whole[:, 49 + step])
        assert np.array_equal(whole[:, -51 + step], whole[:, -50 - step])
    assert not np.array_equal(whole[49], whole[52])  # the picture is not flat there
    assert "a wrap of 50 px was mirrored on every side: 500 x 700 px" in done.notes
    assert done.surround is not None
    assert done.surround.mapping()["kind"] == "wrap"


def pixels(done: Finished) -> Any:
    assert done.fault is None
    with Image.open(io.BytesIO(done.data)) as picture:
        return np.asarray(picture)
