"""Found files known again: a sample of ``bench/likeness.py``."""

from __future__ import annotations

from itertools import cycle
from pathlib import Path

import cv2
import numpy as np
import pytest

from cropper.geometry import PixelBox, Size
from cropper.likeness.faces import Faces, face_box
from cropper.likeness.fingerprint import Fingerprint, fingerprint, from_bytes, to_bytes
from cropper.likeness.recognising import Recognised, State, recognised
from cropper.likeness.shelf import Shelf, joined, opened, picked, shelf
from cropper.likeness.shelf import to_bytes as shelf_to
from cropper.master.opening import open_master
from tests.likeness import sitting, wear

DEMO = Path(__file__).resolve().parents[2] / "demo_images"
NAMES = ("a_frontal", "e_mill_hall", "i_shawl_rival")
CROP = PixelBox(1300, 880, 1700, 1380)
"""A deep crop of the mill hall: the small figure in the wide room."""


class Pictures:
    """Three demo masters at half size, their fingerprints and their shelf."""

    def __init__(self) -> None:
        self.pixels = {
            name: open_master(DEMO / f"fernhollow_{name}.jpg").srgb8(1600) for name in NAMES
        }
        self.prints = {name: fingerprint(name, one) for name, one in self.pixels.items()}
        self.shelf = shelf(self.prints.values())

    def told(self, name: str, *steps: wear.Wear) -> tuple[wear.Worn, Recognised]:
        worn = wear.worn(self.pixels[name], *steps)
        return worn, recognised(worn.pixels, self.shelf, self.prints.get)


@pytest.fixture(scope="module")
def pictures() -> Pictures:
    return Pictures()


WEARS = {
    "JPEG 30 at a quarter": (wear.resized(0.25), wear.jpeg(30)),
    "cut to 70 %, grey": (wear.wide(900), wear.cut(0.7, 0.4, 0.2), wear.grey, wear.jpeg(60)),
    "white border": (wear.wide(600), wear.bordered(0.08, (255, 255, 255)), wear.jpeg(60)),
    "screenshot": (wear.screenshot(600), wear.jpeg(80)),
    "mirrored and tinted": (wear.wide(700), wear.toned(0.9, 1, 1.15), wear.mirrored),
    "turned 3 degrees": (wear.wide(900), wear.turned(3), wear.jpeg(60)),
}


@pytest.mark.parametrize(("name", "wearing"), list(zip(cycle(NAMES), WEARS, strict=False)))
def test_a_worn_file_is_known_and_its_crop_found_back(
    pictures: Pictures, name: str, wearing: str
) -> None:
    """Within 1.5 % of a side, and the truth is what ``wear`` did (the bench tells how much)."""
    worn, told = pictures.told(name, *WEARS[wearing])
    assert told.state is State.SURE
    best = told.likenesses[0]
    assert best.sha256 == name
    assert best.mirrored == worn.mirrored
    found = [(point.x, point.y) for point in best.crop.corners]
    true = wear.corners(worn.part, worn.turn_deg)
    errors = [np.hypot(a[0] - b[0], a[1] - b[1]) for a, b in zip(found, true, strict=True)]
    assert max(errors) <= 0.015 * max(worn.whole)
    assert best.crop.turn_deg == pytest.approx(worn.turn_deg, abs=0.3)


def test_a_border_and_an_interface_are_told_apart_from_the_picture(pictures: Pictures) -> None:
    worn, told = pictures.told("e_mill_hall", wear.screenshot(500))
    shown = told.likenesses[0].shown
    assert np.allclose((shown.x0, shown.y0, shown.x1, shown.y1), worn.place, atol=4)


def test_a_master_that_is_not_known_is_unknown(pictures: Pictures) -> None:
    others = {name: one for name, one in pictures.prints.items() if name != "a_frontal"}
    found = wear.worn(pictures.pixels["a_frontal"], wear.wide(800)).pixels
    assert recognised(found, shelf(others.values()), others.get).state is State.UNKNOWN


def test_frames_of_one_sitting_are_told_apart_or_both_named(pictures: Pictures) -> None:
    first = pictures.pixels["a_frontal"]
    truth = sitting.person(DEMO / "fernhollow_a_frontal.jpg")
    scaled = {
        name: [side * 1600 / truth_height for side in truth[name]]
        for truth_height in (2806,)
        for name in ("left_eye", "right_eye", "chin", "crown")
    }
    smiled = sitting.frames(first, scaled)["smiled"]()
    prints = {"first": fingerprint("first", first), "smiled": fingerprint("smiled", smiled)}
    for name, pixels in (("first", first), ("smiled", smiled)):
        found = wear.worn(pixels, wear.wide(900), wear.jpeg(60)).pixels
        told = recognised(found, shelf(prints.values()), prints.get)
        assert told.state is State.SURE
        assert told.likenesses[0].sha256 == name
    # With the one that the file shows not known, the other is named with a doubt, not for sure.
    found = wear.worn(smiled, wear.wide(900), wear.jpeg(60)).pixels
    alone = {"first": prints["first"]}
    told = recognised(found, shelf(alone.values()), alone.get)
    assert told.state is State.UNDECIDED
    assert told.likenesses[0].differs is not None


def test_the_same_picture_known_twice_is_named_twice(pictures: Pictures) -> None:
    twice = {name: fingerprint(name, pictures.pixels["a_frontal"]) for name in ("one", "other")}
    found = wear.worn(pictures.pixels["a_frontal"], wear.wide(700), wear.jpeg(70)).pixels
    told = recognised(found, shelf(twice.values()), twice.get)
    assert told.state is State.UNDECIDED
    assert {one.sha256 for one in told.likenesses} == {"one", "other"}


def test_a_label_laid_over_makes_the_answer_undecided_and_says_where(pictures: Pictures) -> None:
    worn, told = pictures.told("a_frontal", wear.wide(900), wear.lettered, wear.jpeg(80))
    assert told.state is State.UNDECIDED
    differs = told.likenesses[0].differs
    assert differs is not None
    high, wide = worn.pixels.shape[:2]
    assert 0.2 * wide < differs.x0 < differs.x1 < 0.8 * wide
    assert 0.65 * high < differs.y0 < differs.y1 < 0.9 * high


def test_a_deep_crop_of_a_wide_room_gets_a_nearer_view() -> None:
    pixels = open_master(DEMO / "fernhollow_e_mill_hall.jpg").srgb8()
    kept = fingerprint("hall", pixels, [CROP])
    assert len(kept.views) == 2
    part = pixels[CROP.y0 : CROP.y1, CROP.x0 : CROP.x1]
    found = wear.worn(part, wear.wide(360), wear.jpeg(60)).pixels
    told = recognised(found, shelf([kept]), {"hall": kept}.get)
    assert told.state is State.SURE
    assert told.likenesses[0].crop.box.overlap(CROP) > 0.97


@pytest.mark.parametrize(
    "pixels",
    [
        np.full((900, 700, 3), 130, np.uint8),
        np.zeros((1, 1, 3), np.uint8),
        np.random.default_rng(1).integers(0, 255, (400, 400, 3), dtype=np.uint8),
        np.zeros((3, 3000, 3), np.uint8),
    ],
    ids=["blank", "one pixel", "noise", "a line"],
)
def test_what_is_no_picture_of_ours_is_unknown(pictures: Pictures, pixels: wear.Pixels) -> None:
    told = recognised(pixels, pictures.shelf, pictures.prints.get)
    assert told == Recognised(state=State.UNKNOWN)


def test_an_empty_shelf_knows_nothing(pictures: Pictures) -> None:
    nothing = shelf(())
    told = recognised(pictures.pixels["a_frontal"], nothing, lambda _: None)
    assert told.state is State.UNKNOWN


def same(one: Fingerprint | None, other: Fingerprint) -> bool:
    return one is not None and (
        one.hashes == other.hashes
        and one.size == other.size
        and all(
            np.array_equal(mine.features.descriptors, theirs.features.descriptors)
            and mine.box == theirs.box
            for mine, theirs in zip(one.views, other.views, strict=True)
        )
    )


def test_fingerprints_and_shelves_come_back_from_their_bytes(
    pictures: Pictures, tmp_path: Path
) -> None:
    for one in pictures.prints.values():
        assert same(from_bytes(to_bytes(one)), one)
    assert from_bytes(b"PK damaged") is None
    bases = {name: f"basis of {name}" for name in NAMES}
    file = tmp_path / "shelf.npz"
    file.write_bytes(shelf_to(pictures.shelf, bases))
    back = opened(file)
    assert back is not None
    assert back[0].names == pictures.shelf.names
    assert np.array_equal(back[0].descriptors, pictures.shelf.descriptors)
    assert back[1] == bases
    empty = tmp_path / "empty.npz"
    empty.write_bytes(shelf_to(shelf(()), {}))
    assert opened(empty) is not None
    file.write_bytes(file.read_bytes()[:4000])
    assert opened(file) is None
    assert opened(tmp_path / "none.npz") is None


def test_a_shelf_with_other_pictures_first_knows_the_same(pictures: Pictures) -> None:
    found = fingerprint("found", pictures.pixels["i_shawl_rival"])
    asked = found.views[0].features, tuple(found.hashes.values())
    turned = picked(pictures.shelf, NAMES[::-1])
    assert turned.names == NAMES[::-1]
    assert turned.candidates(*asked)[0] == "i_shawl_rival"
    assert picked(turned, ["a_frontal"]).names == ("a_frontal",)
    assert len(picked(turned, ["a_frontal"]).views) == 1


def test_joined_shelves_know_what_each_knew(pictures: Pictures) -> None:
    apart: list[Shelf] = [shelf([one]) for one in pictures.prints.values()]
    both = joined(apart)
    found = fingerprint("found", pictures.pixels["i_shawl_rival"])
    asked = found.views[0].features, tuple(found.hashes.values())
    assert both.names == pictures.shelf.names
    assert both.candidates(*asked)[0] == "i_shawl_rival"


def test_a_face_that_changed_in_a_small_file_makes_the_answer_undecided() -> None:
    """Lids of a pixel or two in a view of the whole figure: the tiles agree, the face does not."""
    first = open_master(DEMO / "fernhollow_c_figure_headroom.jpg").srgb8()
    truth = sitting.person(DEMO / "fernhollow_c_figure_headroom.jpg")
    box = face_box(*sitting.eyes_and_head(truth), Size(first.shape[1], first.shape[0]))
    assert box is not None
    kept = fingerprint("first", first, (), [box])
    frames = {"first": first, "blinked": sitting.frames(first, truth)["blinked"]()}
    told = {
        (name, wide): recognised(
            wear.worn(pixels, wear.wide(wide), wear.jpeg(60)).pixels,
            shelf([kept]),
            {"first": kept}.get,
        )
        for name, pixels in frames.items()
        for wide in (640, 240)
    }
    assert told["first", 640].state is State.SURE
    assert told["first", 640].likenesses[0].faces is Faces.SAME
    assert told["blinked", 640].state is State.UNDECIDED
    assert told["blinked", 640].likenesses[0].faces is Faces.DIFFER
    # A head of 45 px shows no lids: that is said.
    assert told["first", 240].likenesses[0].faces is Faces.TOO_SMALL
    assert told["blinked", 240].likenesses[0].faces is Faces.TOO_SMALL


def test_a_figure_that_leans_before_a_plain_backdrop_makes_the_answer_undecided() -> None:
    first = open_master(DEMO / "fernhollow_c_figure_headroom.jpg").srgb8(1600)
    kept = fingerprint("first", first)
    high, wide = first.shape[:2]
    aslant = np.array([[1, 0.012, -0.006 * high], [0, 1, 0]], np.float32)
    leaning = cv2.warpAffine(first, aslant, (wide, high), borderMode=cv2.BORDER_REPLICATE)
    for pixels, state in ((first, State.SURE), (leaning, State.UNDECIDED)):
        worn = wear.worn(np.asarray(pixels, np.uint8), wear.wide(640), wear.jpeg(70)).pixels
        assert recognised(worn, shelf([kept]), {"first": kept}.get).state is state
