"""The wall's pages: what waits first, narrowed by state and by name, told by cards alone."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from cropper.errors import MisuseError
from cropper.job.cards import Card, Line
from cropper.job.masters import Entry, Masters
from cropper.job.plan import Plan, PlannedMaster, PlannedSet
from cropper.review.leafing import ON_A_PAGE, Asked, Wall, asked_of

MANY = 2 * ON_A_PAGE + 5


def card(number: int, verdict: str = "holds", word: str = "", eyes: str = "1 pair, found") -> Card:
    line = Line("story", verdict, "bust", "", "cropper", 0, "proposed", word, "")
    return Card(
        version=f"wool-{number:03d}",
        file=f"roll/IMG_{number:04d}.JPG",
        path="",
        sha256="",
        width=900,
        height=1200,
        bytes=1,
        place=number,
        text=f"{number} {verdict} {word} {eyes}",
        ground="",
        finder="",
        eyes=eyes,
        question="place the eyes" if eyes == "not found" else "",
        lines=(line,),
    )


def unopened(card: Card) -> PlannedMaster:
    pytest.fail(f"{card.version} was opened")


def plan_of(*cards: Card) -> Plan:
    entries = (Entry(one.version, one.place, card=one, opener=unopened) for one in cards)
    made = datetime(2026, 3, 4, tzinfo=UTC)
    return Plan(program_version="1", made_at=made, masters=Masters(entries))


def test_what_waits_comes_first_and_the_gravest_of_it() -> None:
    cards = (card(0), card(1, "uncertain"), card(2, "breaks"), card(3, eyes="not found"))

    leaf = Wall().leaf(plan_of(*cards), Asked())

    assert leaf.versions == ("wool-003", "wool-002", "wool-001", "wool-000")


def test_every_master_stands_on_one_page_and_the_last_page_is_the_last() -> None:
    plan, wall = plan_of(*(card(number) for number in range(MANY))), Wall()

    leaves = [wall.leaf(plan, Asked(page=page)) for page in (1, 2, 3)]

    assert [len(one.versions) for one in leaves] == [ON_A_PAGE, ON_A_PAGE, 5]
    assert [version for one in leaves for version in one.versions] == list(plan.shelf.versions)
    assert wall.leaf(plan, Asked(page=99)) == replace(leaves[2], asked=Asked(page=99))


def test_it_is_narrowed_by_state_and_the_counts_are_right() -> None:
    plan = plan_of(card(0), card(1, word="approved"), card(2, "no crop"), card(3, word="held"))

    leaf = Wall().leaf(plan, Asked(show="approved"))

    assert leaf.versions == ("wool-001",)
    counted = {name: leaf.counts[name] for name in ("everything", "waits", "no-crop", "open")}
    assert counted == {"everything": 4, "waits": 1, "no-crop": 1, "open": 1}
    assert (leaf.counts["held"], leaf.counts["refused"], leaf.found, leaf.of) == (1, 0, 1, 4)


@pytest.mark.parametrize("find", ["wool-002", "IMG_0002", "img_0002.jpg", "002 WOOL", "hats"])
def test_a_master_is_found_by_part_of_its_version_its_file_or_its_set(find: str) -> None:
    plan = plan_of(*(card(number) for number in range(5)))
    plan = replace(plan, sets=(PlannedSet(name="hats", versions=("wool-002",)),))

    assert Wall().leaf(plan, Asked(find=find)).versions == ("wool-002",)


def test_a_folder_s_name_finds_nothing_and_nothing_is_one_empty_page() -> None:
    leaf = Wall().leaf(plan_of(card(0)), Asked(find="roll"))

    assert (leaf.versions, leaf.page, leaf.pages, leaf.found) == ((), 1, 1, 0)


def test_a_word_said_since_moves_the_master() -> None:
    wall = Wall()
    before = wall.leaf(plan_of(card(0), card(1, "breaks")), Asked())
    after = wall.leaf(plan_of(card(0), card(1, "breaks", word="approved")), Asked())

    assert before.versions[0] == "wool-001"
    assert after.versions[0] == "wool-000"


def test_an_address_leads_back_to_the_same_part_of_the_wall() -> None:
    asked = asked_of("problem", " hat & scarf ", "3")

    assert asked == Asked(show="problem", find="hat & scarf", page=3)
    assert asked.address(4) == "/?show=problem&find=hat+%26+scarf&page=4"
    assert Asked().address(1) == "/"


@pytest.mark.parametrize("page", ["", "0", "-1", "two", "²", "9" * 5000])
def test_a_page_that_is_no_number_is_the_first(page: str) -> None:
    assert asked_of("", "", page).page == 1


def test_a_state_that_the_wall_does_not_know_is_a_sentence() -> None:
    with pytest.raises(MisuseError, match="cannot show 'nicest'"):
        asked_of("nicest", "", "")
