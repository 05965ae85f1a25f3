"""A plan comes back from its file exactly as it went in."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cropper.errors import JobError
from cropper.job import codec
from cropper.job.choices import settled
from cropper.job.plan import (
    FailedMaster,
    Plan,
    PlannedMaster,
    PlannedSet,
)
from cropper.proposal.measuring import measure
from cropper.proposal.planning import propose
from tests.strategies import Scene, scene, scenes

NOW = datetime(2026, 3, 4, 5, 6, 7, tzinfo=UTC)


def plan_of(one: Scene) -> Plan:
    answer = propose(one.finding, one.destination)
    choice = settled(
        None,
        None,
        answer,
        moved=True,
        measure=lambda crop, like=None: measure(one.finding, one.destination, crop),  # noqa: ARG005 - a measurer is asked so
        now=NOW,
    )
    master = PlannedMaster(
        file="müller & söhne.jpg",
        path="../in/müller & söhne.jpg",
        sha256="ab" * 32,
        width=one.finding.size.width,
        height=one.finding.size.height,
        version="müller",
        finding=one.finding,
        answers=(answer,),
        choices={one.destination.name: choice} if choice else {},
        basis={one.destination.name: "cd" * 32},
    )
    return Plan(
        program_version="1",
        made_at=NOW,
        destinations=(one.destination,),
        masters=(master,),
        sets=(PlannedSet(name="wool", versions=("müller",), best={one.destination.name: None}),),
        failed=(FailedMaster(file="x", sentence="it is empty"),),
        outlets={one.destination.name: ("pages",)},
    )


@settings(max_examples=40)
@given(scenes())
def test_what_is_written_is_read_back_to_the_last_digit(one: Scene) -> None:
    plan = plan_of(one)
    assert codec.from_text(codec.to_text(plan)) == plan


@given(st.text(max_size=40))
def test_any_text_that_is_no_plan_is_a_sentence_with_a_way_out(text: str) -> None:
    with pytest.raises(JobError) as caught:  # no 40 characters are a whole plan
        codec.from_text(text)
    assert caught.value.way_out


def test_a_damaged_value_is_named_by_its_place() -> None:
    mapping = codec.to_mapping(plan_of(scene(1)))
    mapping["masters"][0]["width"] = "wide"
    with pytest.raises(JobError, match=r"masters\.0\.width"):
        codec.from_mapping(mapping)


def test_a_newer_format_is_told_from_a_damaged_one() -> None:
    mapping = codec.to_mapping(plan_of(scene(1)))
    mapping["format"] += 1
    with pytest.raises(JobError, match="newer program"):
        codec.from_mapping(mapping)


def test_infinity_survives_json_which_has_none() -> None:
    plans = (plan_of(scene(seed)) for seed in range(1, 100))
    plan = next(one for one in plans if one.masters[0].answers[0].best)
    master = plan.masters[0]
    best = master.answers[0].proposals[0]
    endless = replace(best.measures[0], excess=float("inf"))
    changed = replace(best, measures=(endless, *best.measures[1:]))
    answer = replace(master.answers[0], proposals=(changed,))
    plan = replace(plan, masters=(replace(master, answers=(answer,)),))
    text = codec.to_text(plan)
    json.loads(text, parse_constant=lambda word: pytest.fail(f"{word} is no JSON"))
    assert codec.from_text(text) == plan


def test_the_shipped_schema_is_the_plan_s_own() -> None:
    from importlib.resources import files  # noqa: PLC0415

    shipped = json.loads((files("cropper") / "schemas" / "plan.schema.json").read_text("utf-8"))
    assert shipped == json.loads(json.dumps(codec.plan_schema())), (
        "renew it: python -m cropper.job.codec > cropper/schemas/plan.schema.json"
    )
