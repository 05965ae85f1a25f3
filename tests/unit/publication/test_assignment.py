"""Which version goes where, told on the knitwear maker's two pictures: roll-neck and shawl."""

from __future__ import annotations

import tomllib

import pytest

from cropper.errors import EXIT_RIVALS_CLASH, MisuseError, RivalsError
from cropper.proposal.proposal import TIERS, Cost
from cropper.publication.assignment import Assignment, assign
from cropper.publication.outlets import Outlets

TEXT = """
[outlets.pages]
kind = "stream"
audience = "followers"
[outlets.newsletter]
kind = "stream"
audience = ["followers", "clients"]
[outlets.portfolio]
kind = "placed"
audience = "clients"
[outlets.gazette]
kind = "placed"
audience = "readers"
exclusive = true
[destinations]
square = "pages"
tall = "pages"
letter = "newsletter"
folio = "portfolio"
cover = "gazette"
"""
MILL = Outlets.from_mapping(tomllib.loads(TEXT))


def cost(**tiers: int) -> Cost:
    return tuple(tiers.get(tier, 0) for tier in TIERS)


def sentence(assignment: Assignment, destination: str) -> str:
    return next(p.sentence for p in assignment.placements if p.destination == destination)


def test_each_destination_gets_the_version_that_suits_it_best() -> None:
    costs = {
        ("roll", "square"): cost(framing=20),
        ("shawl", "square"): cost(eye_line=900),
        ("roll", "avatar"): cost(),
        ("shawl", "avatar"): cost(crown=1),
    }
    given = assign(costs, MILL)
    assert given.versions == {"avatar": "roll", "square": "shawl"}
    assert given.cost == (0, *cost(eye_line=900))
    assert (
        sentence(given, "square") == "'shawl' suits it best: it is better than 'roll' in framing."
    )
    assert not given.left_empty


def test_destinations_with_a_common_audience_show_one_version() -> None:
    costs = {
        ("roll", "square"): cost(framing=1),
        ("shawl", "square"): cost(framing=2),
        ("roll", "tall"): cost(framing=9),
        ("shawl", "tall"): cost(framing=4),
    }
    given = assign(costs, MILL)
    assert set(given.versions.values()) == {"shawl"}
    assert "the same people see tall, where 'shawl' stands" in sentence(given, "square")
    assert "rivals never meet" in sentence(given, "square")


def test_audiences_tie_through_a_third_outlet() -> None:
    costs = {
        ("roll", "square"): cost(framing=1),
        ("shawl", "square"): cost(framing=2),
        ("roll", "folio"): cost(framing=2),
        ("shawl", "folio"): cost(framing=1),
    }
    assert assign(costs, MILL).versions == {"folio": "shawl", "square": "roll"}
    tied = assign({**costs, ("roll", "letter"): cost(), ("shawl", "letter"): cost(kept=1)}, MILL)
    assert set(tied.versions.values()) == {"roll"}


def test_fewer_empty_places_come_before_any_cost() -> None:
    costs = {
        ("roll", "square"): cost(never=0),
        ("roll", "tall"): None,
        ("shawl", "square"): cost(framing=9000),
        ("shawl", "tall"): cost(framing=9000),
    }
    given = assign(costs, MILL)
    assert set(given.versions.values()) == {"shawl"}
    assert given.runner_up is not None
    assert given.runner_up.extra[0] == 1
    assert given.runner_up.sentence == (
        "The next best assignment leaves 1 more destination without a crop."
    )


def test_a_place_where_nothing_fits_stays_empty_and_says_so() -> None:
    given = assign({("roll", "header"): None, ("shawl", "header"): None}, MILL)
    assert given.versions == {"header": None}
    assert given.cost == (1, *cost())
    assert sentence(given, "header") == "No version has a crop here."
    assert [place.destination for place in given.left_empty] == ["header"]
    assert given.runner_up is None


def test_a_place_is_left_empty_rather_than_showing_a_rival() -> None:
    costs = {
        ("roll", "square"): cost(),
        ("roll", "tall"): cost(),
        ("roll", "letter"): None,
        ("shawl", "letter"): cost(),
    }
    given = assign(costs, MILL)
    assert given.versions == {"letter": None, "square": "roll", "tall": "roll"}
    assert sentence(given, "letter").startswith("Left empty: the same people see square and tall")


def test_an_exclusive_outlet_removes_its_version_elsewhere() -> None:
    costs = {
        ("roll", "cover"): cost(framing=5),
        ("shawl", "cover"): cost(),
        ("roll", "square"): cost(framing=3),
        ("shawl", "square"): cost(),
    }
    given = assign(costs, MILL)
    assert given.versions == {"cover": "shawl", "square": "roll"}
    assert "'shawl' goes to the outlet 'gazette', which keeps it" in sentence(given, "square")
    other = assign({**costs, ("roll", "square"): cost(framing=6)}, MILL)
    assert other.versions == {"cover": "roll", "square": "shawl"}
    assert "'shawl' is used elsewhere, and the outlet 'gazette'" in sentence(other, "cover")


def test_a_promise_removes_a_version_elsewhere() -> None:
    costs = {("roll", "square"): cost(framing=3), ("shawl", "square"): cost()}
    given = assign(costs, MILL, exclusives={"shawl": "portfolio"})
    assert given.versions == {"square": "roll"}
    assert "'shawl' is promised to the outlet 'portfolio' alone" in sentence(given, "square")


def test_a_fixed_point_is_kept_and_binds_its_company() -> None:
    costs = {
        ("roll", "square"): cost(),
        ("shawl", "square"): cost(framing=50),
        ("roll", "tall"): cost(),
        ("shawl", "tall"): cost(framing=50),
    }
    given = assign(costs, MILL, fixed={"square": "shawl"})
    assert set(given.versions.values()) == {"shawl"}
    assert sentence(given, "square") == "'shawl' stays here because you fixed it."
    already_running = assign(costs, MILL, fixed={"letter": "shawl"})
    assert set(already_running.versions.values()) == {"shawl"}


def test_a_version_fixed_where_it_has_no_crop_stays_and_is_counted() -> None:
    costs = {("roll", "square"): cost(), ("shawl", "square"): None}
    given = assign(costs, MILL, fixed={"square": "shawl"})
    (place,) = given.placements
    assert (place.version, place.cost, place.fixed) == ("shawl", None, True)
    assert "It has no crop here: place one by hand" in place.sentence
    assert given.cost[0] == 1


def test_fixed_points_in_outlets_toml_of_another_set_are_passed_over() -> None:
    outlets = Outlets.from_mapping(tomllib.loads(TEXT + '[fixed]\nsquare = "lantern"'))
    assert assign({("roll", "square"): cost()}, outlets).versions == {"square": "roll"}


def refused(costs: dict[tuple[str, str], Cost | None], **terms: dict[str, str]) -> str:
    with pytest.raises(RivalsError) as caught:
        assign(costs, MILL, **terms)  # type: ignore[arg-type]
    assert caught.value.exit_code == EXIT_RIVALS_CLASH
    return str(caught.value)


BOTH: dict[tuple[str, str], Cost | None] = {
    (version, place): cost()
    for version in ("roll", "shawl")
    for place in ("square", "folio", "cover")
}


def test_fixed_rivals_before_one_audience_clash() -> None:
    said = refused(BOTH, fixed={"square": "roll", "tall": "shawl"})
    assert said.startswith("'roll' is fixed for square and its rival 'shawl' for tall")
    assert "the audience 'followers' would see both. Fix one version for both" in said


def test_fixed_rivals_may_clash_through_overlapping_audiences() -> None:
    said = refused({**BOTH, ("roll", "letter"): cost()}, fixed={"square": "roll", "folio": "shawl"})
    assert "the audiences 'clients' and 'followers' would see both" in said


def test_a_fixed_point_may_not_break_an_exclusive() -> None:
    said = refused(BOTH, fixed={"cover": "roll", "folio": "roll"})
    assert "where the outlet 'gazette' keeps it to itself, and for folio too" in said


def test_a_fixed_point_may_not_break_a_promise() -> None:
    said = refused(BOTH, fixed={"square": "roll"}, exclusives={"roll": "portfolio"})
    assert "'roll' is fixed for square, yet it is promised to the outlet 'portfolio' alone" in said


def test_on_request_every_version_is_used() -> None:
    costs = {
        (version, place): cost(framing=weight)
        for place in ("square", "avatar")
        for version, weight in (("roll", 1), ("shawl", 7 if place == "avatar" else 9))
    }
    assert set(assign(costs, MILL).versions.values()) == {"roll"}
    given = assign(costs, MILL, use_every_version=True)
    assert given.versions == {"avatar": "shawl", "square": "roll"}
    assert "every version was to be used at least once" in sentence(given, "avatar")


def test_every_version_cannot_be_used_before_a_single_audience() -> None:
    costs = {(version, "square"): cost() for version in ("roll", "shawl")}
    with pytest.raises(RivalsError, match="2 versions, and the destinations make 1 separate"):
        assign(costs, MILL, use_every_version=True)


def test_a_version_without_any_crop_cannot_be_used() -> None:
    costs = {("roll", "square"): cost(), ("shawl", "square"): None}
    with pytest.raises(RivalsError, match="'shawl' has no crop in any destination"):
        assign(costs, MILL, use_every_version=True)


def test_equal_costs_go_to_the_first_name_and_the_runner_up_says_so() -> None:
    given = assign({("shawl", "square"): cost(), ("roll", "square"): cost()}, MILL)
    assert given.versions == {"square": "roll"}
    assert sentence(given, "square") == "'roll' and 'shawl' do equally well here."
    assert given.runner_up is not None
    assert given.runner_up.versions == {"square": "shawl"}
    assert given.runner_up.sentence.startswith("Another assignment does equally well")


def test_the_runner_up_names_the_tier_in_which_it_is_worse() -> None:
    costs = {("roll", "square"): cost(eye_line=20), ("shawl", "square"): cost(eye_line=270)}
    runner_up = assign(costs, MILL).runner_up
    assert runner_up is not None
    assert runner_up.extra == (0, *cost(eye_line=250))
    assert "worse in the eye line (by 0.250)" in runner_up.sentence


def test_a_version_alone_is_said_to_be_alone() -> None:
    given = assign({("roll", "square"): cost()}, MILL)
    assert sentence(given, "square") == "'roll' is the only version with a crop here."
    assert given.runner_up is None


def test_nothing_asked_is_nothing_assigned() -> None:
    given = assign({}, Outlets())
    assert given.placements == ()
    assert given.runner_up is None


def test_names_that_do_not_exist_are_misuse() -> None:
    with pytest.raises(MisuseError, match=r"no version 'lantern'. Versions: roll"):
        assign({("roll", "square"): cost()}, MILL, fixed={"square": "lantern"})
    with pytest.raises(MisuseError, match=r"no outlet 'kiosk'. Outlets: gazette"):
        assign({("roll", "square"): cost()}, MILL, exclusives={"roll": "kiosk"})


def test_costs_of_different_lengths_are_a_programmers_mistake() -> None:
    with pytest.raises(ValueError, match="differ in length"):
        assign({("roll", "square"): (1, 2), ("shawl", "square"): (1,)}, MILL)


def test_too_many_versions_to_tell_apart_are_refused() -> None:
    costs = {(f"v{at:02}", "cover"): cost() for at in range(11)}
    with pytest.raises(MisuseError, match="11 versions are too many"):
        assign(costs, MILL)
