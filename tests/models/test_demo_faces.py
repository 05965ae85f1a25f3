"""The finder against the exact truth of every demo master, plain and varied.

Bounds are those the finder was built to reach. The chin of one bearded man is hidden by hair.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray

from cropper.subject.finders import default_finder
from cropper.subject.subject import Finding, Origin, Turn
from tests.models.varieties import DEMO, Truth, errors, loaded, matched, varieties

pytestmark = pytest.mark.models

KINDS = (
    "plain",
    "mirrored",
    "quarter left",
    "quarter right",
    "upside down",
    "tinted",
    "grey",
    "3 % heads",
)
UPRIGHT = ("plain", "mirrored", "tinted", "grey", "3 % heads")


Errors = NDArray[np.float64]


@dataclass(frozen=True)
class Look:
    picture: str
    kind: str
    finding: Finding
    truth: list[Truth]

    @property
    def rows(self) -> list[dict[str, float]]:
        pairs = matched(self.finding.subjects, self.truth)
        return [errors(subject, truth) for subject, truth in pairs if subject is not None]


@pytest.fixture(scope="module")
def looks() -> list[Look]:
    finder = default_finder()
    seen = []
    for path in sorted(DEMO.glob("*.jpg")):
        pixels, truth = loaded(path, 1600)
        for kind, (picture, theirs) in varieties(pixels, truth, KINDS).items():
            found = finder.find(picture, small_faces=kind == "3 % heads")
            seen.append(Look(path.stem, kind, found, theirs))
    return seen


def column(looks: list[Look], name: str, kinds: tuple[str, ...] = KINDS) -> Errors:
    rows = [row for look in looks if look.kind in kinds for row in look.rows]
    values: Errors = np.abs(np.array([row.get(name, np.nan) for row in rows], np.float64))
    return values[~np.isnan(values)]


def eye_errors(looks: list[Look], kinds: tuple[str, ...] = KINDS) -> Errors:
    return np.concatenate([column(looks, "eye_a", kinds), column(looks, "eye_b", kinds)])


def test_everybody_is_found_and_nobody_else(looks: list[Look]) -> None:
    counted = {(one.picture, one.kind): len(one.finding.subjects) for one in looks}
    assert counted == {(one.picture, one.kind): len(one.truth) for one in looks}
    assert all(len(one.rows) == len(one.truth) for one in looks)


@pytest.mark.parametrize("kind", KINDS)
def test_eyes_lie_within_the_promised_bounds(looks: list[Look], kind: str) -> None:
    wrong = eye_errors(looks, (kind,))
    assert np.median(wrong) <= 0.027
    assert np.percentile(wrong, 95) <= 0.060
    assert wrong.max() <= 0.10


def test_tilt_is_within_two_degrees(looks: list[Look]) -> None:
    assert np.percentile(column(looks, "roll"), 95) <= 2.0


def test_the_hair_top_is_found_to_a_few_hundredths_of_a_head(looks: list[Look]) -> None:
    wrong = column(looks, "hair")
    assert np.median(wrong) <= 0.02
    assert np.percentile(wrong, 95) <= 0.10


def test_the_skull_top_lies_where_proportions_and_hair_put_it(looks: list[Look]) -> None:
    wrong = column(looks, "skull")
    assert np.median(wrong) <= 0.03
    assert np.percentile(wrong, 95) <= 0.09


@pytest.mark.parametrize(
    ("points", "least"),
    [(("hair_z",), 0.4), (("chin_z",), 0.6), (("skull_z",), 0.6), (("eye_a_z", "eye_b_z"), 0.6)],
)
def test_the_truth_lies_within_one_sigma_about_as_often_as_on_portraits(
    looks: list[Look], points: tuple[str, ...], least: float
) -> None:
    """Sigmas are set on real portraits (test_portraits.py); rendered hair is harder to the mask."""
    sigmas = np.concatenate([column(looks, point, UPRIGHT) for point in points])
    assert float((sigmas <= 1).mean()) >= least


def test_a_face_on_its_head_is_never_reported_as_a_plain_find(looks: list[Look]) -> None:
    subjects = [s for one in looks if one.kind == "upside down" for s in one.finding.subjects]
    assert {s.eyes_from for s in subjects} == {Origin.ESTIMATED}
    assert all(one.finding.problem for one in looks if one.kind == "upside down")


def test_plain_faces_are_found_not_estimated(looks: list[Look]) -> None:
    subjects = [s for one in looks if one.kind in UPRIGHT for s in one.finding.subjects]
    assert {s.eyes_from for s in subjects} == {Origin.FOUND}


def test_the_side_looked_to_is_the_side_of_the_yaw(looks: list[Look]) -> None:
    for one in looks:
        if one.kind not in UPRIGHT:
            continue
        for subject, truth in matched(one.finding.subjects, one.truth):
            assert subject is not None
            if abs(truth.yaw) >= 16:
                assert subject.turned is (Turn.RIGHT if truth.yaw > 0 else Turn.LEFT)
            if abs(truth.yaw) <= 5:
                assert subject.turned is Turn.FACING


def test_the_crown_is_outside_the_frame_just_where_it_is(looks: list[Look]) -> None:
    for one in looks:
        if one.kind not in ("plain", "mirrored", "tinted", "grey"):
            continue
        for subject, truth in matched(one.finding.subjects, one.truth):
            assert subject is not None
            assert subject.crown_in_frame is truth.hair_inside
            assert (subject.hair_top.at.y < 0) is not truth.hair_inside


def test_a_pair_and_a_row_are_all_principal(looks: list[Look]) -> None:
    for one in looks:
        if one.kind == "plain":
            assert len(one.finding.principals) == len(one.truth)


def test_a_standing_figure_shows_its_joints(looks: list[Look]) -> None:
    figure = next(one for one in looks if "figure" in one.picture and one.kind == "plain")
    names = {joint.name for joint in figure.finding.subjects[0].joints if joint.visibility >= 0.8}
    assert {"left_shoulder", "right_shoulder", "left_elbow", "right_elbow"} <= names
    size = figure.finding.size
    for joint in figure.finding.subjects[0].joints:
        assert 0 <= joint.at.x <= size.width
        assert 0 <= joint.at.y <= size.height
