"""Names are unique and portable; digests move when, and only when, what they stand for does."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from cropper._layout import laid_out
from cropper.job.identity import (
    answer_basis,
    destination_hash,
    digest,
    unlike,
    version_name,
    way_between,
)
from tests.strategies import scene


@given(st.text(max_size=200))
def test_any_stem_becomes_a_name_that_is_safe_in_a_path(stem: str) -> None:
    name = version_name(stem)
    assert name
    assert len(name) <= 80
    assert not set(name) & set('/\\:*?"<>|. \0')


@given(st.lists(st.text("abAB-2", min_size=1, max_size=4), max_size=12))
def test_names_given_in_turn_never_meet_whatever_their_case(wanted: list[str]) -> None:
    taken: list[str] = []
    for name in wanted:
        taken.append(unlike(name, taken))
    assert len({name.casefold() for name in taken}) == len(taken)


def test_a_digest_does_not_see_the_order_of_keys() -> None:
    assert digest({"a": 1, "b": [2]}) == digest({"b": [2], "a": 1})
    assert digest({"a": 1}) != digest({"a": 2})


def test_where_a_preset_lies_does_not_change_what_it_asks() -> None:
    destination = scene(3).destination
    moved = replace(destination, preset_file="elsewhere.toml")
    assert destination_hash(moved) == destination_hash(destination)
    asked = replace(destination, naming="{version}")
    assert destination_hash(asked) != destination_hash(destination)


def test_an_answer_rests_on_master_people_destination_and_rules() -> None:
    one, other = scene(3), scene(4)
    first = answer_basis("aa", one.finding, one.destination, "1")
    assert answer_basis("aa", one.finding, one.destination, "1") == first
    assert answer_basis("ab", one.finding, one.destination, "1") != first
    assert answer_basis("aa", other.finding, one.destination, "1") != first
    assert answer_basis("aa", one.finding, other.destination, "1") != first
    assert answer_basis("aa", one.finding, one.destination, "2") != first


def test_a_way_leads_from_the_job_to_the_file(tmp_path: Path) -> None:
    job, file = tmp_path / "a" / "job", tmp_path / "in" / "x.jpg"
    way = way_between(job, file)
    assert way == "../../in/x.jpg"


def test_short_lists_stay_on_a_line_and_long_ones_are_indented() -> None:
    text = laid_out({"crop": [1, 2, 3, 4], "many": ["word" * 9] * 9})
    assert '"crop": [1, 2, 3, 4],' in text
    assert text.count("\n") > 9
