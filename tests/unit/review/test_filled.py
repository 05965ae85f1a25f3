"""A crop that reaches past the master, as the page tells it."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

from cropper.destination.destination import Finish, Surround
from cropper.geometry import Crop, PixelBox
from cropper.job.plan import Choice, Plan, PlannedMaster
from cropper.proposal.filling import WHITE, bordered
from cropper.proposal.planning import measure, propose
from cropper.review import telling
from tests.unit.proposal.people import destination, found, person

NOW = datetime(2026, 3, 1, tzinfo=UTC)


def test_a_crop_that_is_filled_past_the_master_is_not_moved_by_hand() -> None:
    finding = found(1000, 1500, person(500, 700, 700))
    strip = replace(
        destination("3/1"), finish=Finish(border_colour="#8a8580", fill=Surround.BORDER)
    )
    answer = propose(finding, strip)
    index = next(at for at, one in enumerate(answer.proposals) if one.crop.box.x0 < 0)
    master = PlannedMaster(
        file="roll.jpg",
        path="roll.jpg",
        sha256="0" * 64,
        width=1000,
        height=1500,
        version="roll",
        finding=finding,
        answers=(answer,),
        choices={strip.name: Choice(index=index, at=NOW)},
    )
    plan = Plan(program_version="0", made_at=NOW, destinations=(strip,), masters=(master,))
    card = telling.card(plan, master, strip)
    assert card["fixed_frame"]
    assert "reaches past the master" in card["caution"]


def test_a_small_picture_of_a_chosen_border_shows_it_though_the_destination_fills_nothing() -> None:
    finding = found(1000, 1500, person(500, 700, 700))
    strip = destination("3/2")
    made = bordered(finding, strip)
    assert made is not None
    master = PlannedMaster(
        file="roll.jpg",
        path="roll.jpg",
        sha256="0" * 64,
        width=1000,
        height=1500,
        version="roll",
        finding=finding,
        choices={},
    )
    assert telling.view(made, strip, master)["ground"] == WHITE
    inside = measure(finding, strip, Crop(PixelBox(0, 0, 900, 600)))
    assert not telling.view(inside, strip, master)["ground"]
