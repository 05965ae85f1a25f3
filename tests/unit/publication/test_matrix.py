"""How each version would serve each destination, and which picture to make when none does."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cropper.geometry import Crop, PixelBox, Size
from cropper.proposal.proposal import (
    Answer,
    Conflict,
    Measure,
    NoCrop,
    Proposal,
    Verdict,
    WayOut,
)
from cropper.publication.assignment import assign
from cropper.publication.matrix import costs, matrix, what_to_shoot
from cropper.publication.outlets import Outlets

MASTER = Size(4000, 5000)


def proposed(destination: str, box: PixelBox, delivered: Size, verdict: Verdict) -> Answer:
    proposal = Proposal(
        destination=destination,
        crop=Crop(box),
        kind="looser",
        shot="bust",
        orientation="upright",
        measures=(),
        cost=0.25,
        verdict=verdict,
        reasons=("The eyes lie on the upper third.",),
        delivered=delivered,
        enlargement=delivered.width / box.width,
        effective_ppi=None,
    )
    return Answer(destination=destination, proposals=(proposal,))


def nothing(destination: str, *short: tuple[str, int]) -> Answer:
    no_crop = NoCrop(
        destination=destination,
        conflicts=tuple(
            Conflict(first="shape", second="chin", short_px=px, side=side, sentence="Too tight.")
            for side, px in short
        ),
        ways_out=(WayOut(kind="border", sentence="Add a border.", px=9000, side="left"),),
        sentence="The header needs more room above.",
    )
    return Answer(destination=destination, no_crop=no_crop)


def test_a_cell_tells_what_is_lost_and_what_is_to_spare() -> None:
    square = proposed("square", PixelBox(0, 500, 4000, 4500), Size(1080, 1080), Verdict.HOLDS)
    (cell,) = matrix({"roll": [square]}, {"roll": MASTER})
    assert cell.lost == pytest.approx(0.2)
    assert cell.spare_px == 2920
    assert cell.sentence == ("Bust, good; cuts off 20 % of the picture, 2920 px more than needed.")


def test_an_enlarged_crop_has_nothing_to_spare_and_says_so() -> None:
    wide = proposed("wide", PixelBox(0, 0, 1600, 900), Size(1920, 1080), Verdict.BENDS)
    (cell,) = matrix({"roll": [wide]}, {"roll": MASTER})
    assert cell.spare_px == -320
    assert cell.sentence.endswith("enlarged 1.20 times.")


def test_a_cell_without_a_crop_gives_the_planners_sentence() -> None:
    (cell,) = matrix({"roll": [nothing("header", ("top", 412))]}, {"roll": MASTER})
    assert (cell.cost, cell.verdict, cell.lost, cell.spare_px) == (
        None,
        Verdict.NO_CROP,
        None,
        None,
    )
    assert cell.sentence == "The header needs more room above."
    (bare,) = matrix({"roll": [Answer(destination="header")]}, {"roll": MASTER})
    assert bare.sentence == "No crop was found."


def test_the_matrix_feeds_the_assignment() -> None:
    square = proposed("square", PixelBox(0, 0, 4000, 4000), Size(1080, 1080), Verdict.HOLDS)
    cells = matrix(
        {"roll": [nothing("square", ("top", 1))], "shawl": [square]},
        {"roll": MASTER, "shawl": MASTER},
    )
    assert assign(costs(cells), Outlets()).versions == {"square": "shawl"}


def test_the_share_kept_never_decides_which_version_goes_where() -> None:
    box = PixelBox(0, 0, 4000, 4000)
    kept = Measure(
        rule="kept",
        title="Use of the master",
        value=0.8,
        unit="of the largest crop",
        verdict=Verdict.HOLDS,
        excess=0.2,
        weight=1.0,
        cost=0.2,
        source="house",
        sentence="Keeps 80 %.",
    )
    best = proposed("square", box, Size(1080, 1080), Verdict.HOLDS).proposals[0]
    answer = Answer(destination="square", proposals=(replace(best, measures=(kept,)),))
    (cell,) = matrix({"roll": [answer]}, {"roll": MASTER})
    assert cell.cost == pytest.approx(best.cost - 0.2)


def test_what_to_shoot_is_said_as_shares_of_the_nearest_version() -> None:
    answers = {
        "roll": [nothing("header", ("top", 900), ("left", 1600))],
        "shawl": [nothing("header", ("top", 4000))],
    }
    (picture,) = what_to_shoot(answers, {"roll": MASTER, "shawl": MASTER})
    assert picture.version == "roll"
    assert picture.sentence == (
        "For header, shoot one like 'roll' but looser: "
        "18 % more room above and 40 % more to the left."
    )


def test_needs_of_several_destinations_are_joined_into_one_picture() -> None:
    rows = [nothing("header", ("top", 500), ("right", 100)), nothing("story", ("top", 901))]
    (picture,) = what_to_shoot({"roll": rows}, {"roll": MASTER})
    assert picture.destinations == ("header", "story")
    assert [(room.side, room.percent) for room in picture.need.room] == [("top", 19), ("right", 3)]


def test_too_few_pixels_ask_for_a_larger_file_and_not_for_room() -> None:
    rows = [nothing("banner", ("width", 340)), nothing("story", ("sides", 400))]
    (picture,) = what_to_shoot({"roll": rows}, {"roll": MASTER})
    assert picture.sentence == (
        "For banner and story, shoot one like 'roll' but looser: 10 % more room at the sides, "
        "half on each, and with a larger file: 340 px more across the crop."
    )


def test_a_larger_file_may_be_all_that_is_wanted() -> None:
    (picture,) = what_to_shoot({"roll": [nothing("banner", ("width", 9))]}, {"roll": MASTER})
    assert picture.sentence == (
        "For banner, shoot one like 'roll' but with a larger file: 9 px more across the crop."
    )


def test_a_conflict_without_an_amount_says_nothing_about_a_new_picture() -> None:
    assert what_to_shoot({"roll": [nothing("a", ("", 0))]}, {"roll": MASTER}) == ()
    assert what_to_shoot({"roll": [Answer(destination="a")]}, {"roll": MASTER}) == ()


def test_nothing_is_asked_for_where_some_version_serves() -> None:
    square = proposed("square", PixelBox(0, 0, 4000, 4000), Size(1080, 1080), Verdict.HOLDS)
    answers = {"roll": [nothing("square", ("top", 9))], "shawl": [square]}
    assert what_to_shoot(answers, {"roll": MASTER, "shawl": MASTER}) == ()
