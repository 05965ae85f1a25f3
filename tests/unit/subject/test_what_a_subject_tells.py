"""What a subject tells beside its points: each eye, heads without a face, bodies without a head."""

from __future__ import annotations

from dataclasses import replace

import pytest
from pydantic import TypeAdapter

from cropper.geometry import Extent, Point, Size
from cropper.job.marking import scaled
from cropper.subject.by_hand import by_hand
from cropper.subject.listing import found
from cropper.subject.subject import EyeDetail, EyesState, Finding, Origin, Subject

SIZE = Size(1000, 800)
SEEN = EyeDetail(state=EyesState.OPEN, score=0.9, sigma_px=2.0, openness=0.3, blur_px=1.5)
HIDDEN = EyeDetail(state=EyesState.HIDDEN, score=0.9, sigma_px=30.0)


def profile() -> Subject:
    return replace(
        by_hand(SIZE, Point(400, 300), Point(440, 300)),
        eyes_from=Origin.ESTIMATED,
        left_detail=SEEN,
        right_detail=HIDDEN,
        turn_deg=80.0,
        gaze=-0.5,
        mouth_open=0.1,
    )


FINDING = Finding(size=SIZE, subjects=(profile(),), bodies=(Extent(10, 20, 110, 420),))


def test_a_finding_comes_back_from_json_as_it_was() -> None:
    findings = TypeAdapter(Finding)
    assert findings.validate_json(findings.dump_json(FINDING)) == FINDING


def test_a_finding_of_an_older_job_still_loads() -> None:
    findings = TypeAdapter(Finding)
    told = findings.dump_python(FINDING, mode="json")
    del told["bodies"]
    for new in ("turn_deg", "left_detail", "right_detail", "gaze", "mouth_open"):
        del told["subjects"][0][new]
    old = findings.validate_python(told)
    assert old.bodies == ()
    assert old.subjects[0].left_detail is None
    assert old.subjects[0].left_eye == FINDING.subjects[0].left_eye


def test_each_eye_keeps_what_is_known_of_it_when_the_picture_is_mirrored() -> None:
    one = profile()
    box = one.head_box
    mirrored = one.carried(
        lambda at: Point(1000 - at.x, at.y),
        head_box=Extent(1000 - box.x1, box.y0, 1000 - box.x0, box.y1),
    )
    assert mirrored.left_eye == Point(560, 300)
    assert mirrored.left_detail == HIDDEN
    assert mirrored.right_detail == SEEN


def test_sizes_in_pixels_grow_with_the_picture() -> None:
    larger = scaled(FINDING, Size(2000, 1600))
    assert larger.bodies == (Extent(20, 40, 220, 840),)
    detail = larger.subjects[0].left_detail
    assert detail is not None
    assert detail.sigma_px == 4.0
    assert detail.blur_px == 3.0


@pytest.mark.parametrize(
    ("origin", "doubted"),
    [(Origin.FOUND, False), (Origin.HAND, False), (Origin.ESTIMATED, True), (Origin.NONE, True)],
)
def test_eyes_that_were_not_found_are_in_doubt(origin: Origin, *, doubted: bool) -> None:
    assert replace(profile(), eyes_from=origin).eyes_in_doubt is doubted


def test_the_list_tells_each_eye_and_the_bodies() -> None:
    told = found("a.jpg", FINDING, None)
    assert told["bodies"] == [[10, 20, 110, 420]]
    assert told["subjects"][0]["right_eye_detail"]["state"] == "hidden"
    assert told["subjects"][0]["turn_deg"] == 80.0
