"""Which version goes where, told on the knitwear maker's two pictures: roll-neck and shawl."""

from __future__ import annotations

import tomllib

import pytest

from cropper.errors import EXIT_RIVALS_CLASH, MisuseError, RivalsError
from cropper.proposal.proposal import Cost
from cropper.publication.assignment import Assignment, assign
from cropper.publication.companies import steps
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


def sentence(assignment: Assignment, destination: str) -> str:
    return next(p.sentence for p in assignment.placements if p.destination == destination)


def test_each_destination_gets_the_version_that_suits_it_best() -> None:
    costs = {
        ("roll", "square"): 0.4,
        ("shawl", "square"): 0.1,
        ("roll", "avatar"): 0.0,
        ("shawl", "avatar"): 0.02,
    }
    given = assign(costs, MILL)
    assert given.versions == {"avatar": "roll", "square": "shawl"}
    assert given.cost == (0, 5)
    assert sentence(given, "square") == (
        "'shawl' fits better here than 'roll' (0.10 against 0.40; less is better)."
    )
    assert not given.left_empty


def test_destinations_with_a_common_audience_show_one_version() -> None:
    costs = {
        ("roll", "square"): 0.1,
        ("shawl", "square"): 0.2,
        ("roll", "tall"): 0.9,
        ("shawl", "tall"): 0.4,
    }
    given = assign(costs, MILL)
    assert set(given.versions.values()) == {"shawl"}
    assert "the same people see tall, where 'shawl' stands" in sentence(given, "square")
    assert "rivals never meet" in sentence(given, "square")


def test_audiences_tie_through_a_third_outlet() -> None:
    costs = {
        ("roll", "square"): 0.1,
        ("shawl", "square"): 0.2,
        ("roll", "folio"): 0.2,
        ("shawl", "folio"): 0.1,
    }
    assert assign(costs, MILL).versions == {"folio": "shawl", "square": "roll"}
    tied = assign({**costs, ("roll", "letter"): 0.0, ("shawl", "letter"): 0.02}, MILL)
    assert set(tied.versions.values()) == {"roll"}


def test_fewer_empty_places_come_before_any_cost() -> None:
    costs = {
        ("roll", "square"): 0.0,
        ("roll", "tall"): None,
        ("shawl", "square"): 90.0,
        ("shawl", "tall"): 90.0,
    }
    given = assign(costs, MILL)
    assert set(given.versions.values()) == {"shawl"}
    assert given.runner_up is not None
    assert given.runner_up.extra[0] == 1
    assert given.runner_up.sentence == (
        "The next best choice leaves 1 more destination without a crop."
    )


def test_a_place_where_nothing_fits_stays_empty_and_says_so() -> None:
    given = assign({("roll", "header"): None, ("shawl", "header"): None}, MILL)
    assert given.versions == {"header": None}
    assert given.cost == (1, 0)
    assert sentence(given, "header") == "No version has a crop here."
    assert [place.destination for place in given.left_empty] == ["header"]
    assert given.runner_up is None


def test_a_place_is_left_empty_rather_than_showing_a_rival() -> None:
    costs = {
        ("roll", "square"): 0.0,
        ("roll", "tall"): 0.0,
        ("roll", "letter"): None,
        ("shawl", "letter"): 0.0,
    }
    given = assign(costs, MILL)
    assert given.versions == {"letter": None, "square": "roll", "tall": "roll"}
    assert sentence(given, "letter").startswith("Left empty: the same people see square and tall")


def test_an_exclusive_outlet_removes_its_version_elsewhere() -> None:
    costs = {
        ("roll", "cover"): 0.5,
        ("shawl", "cover"): 0.0,
        ("roll", "square"): 0.3,
        ("shawl", "square"): 0.0,
    }
    given = assign(costs, MILL)
    assert given.versions == {"cover": "shawl", "square": "roll"}
    assert "'shawl' goes to the outlet 'gazette', which keeps it" in sentence(given, "square")
    other = assign({**costs, ("roll", "square"): 0.6}, MILL)
    assert other.versions == {"cover": "roll", "square": "shawl"}
    assert "'shawl' is used elsewhere, and the outlet 'gazette'" in sentence(other, "cover")


def test_a_promise_removes_a_version_elsewhere() -> None:
    costs = {("roll", "square"): 0.3, ("shawl", "square"): 0.0}
    given = assign(costs, MILL, exclusives={"shawl": "portfolio"})
    assert given.versions == {"square": "roll"}
    assert "'shawl' is promised to the outlet 'portfolio' alone" in sentence(given, "square")


def test_a_fixed_point_is_kept_and_binds_its_company() -> None:
    costs = {
        ("roll", "square"): 0.0,
        ("shawl", "square"): 1.0,
        ("roll", "tall"): 0.0,
        ("shawl", "tall"): 1.0,
    }
    given = assign(costs, MILL, fixed={"square": "shawl"})
    assert set(given.versions.values()) == {"shawl"}
    assert sentence(given, "square") == "'shawl' stays here because you fixed it."
    already_running = assign(costs, MILL, fixed={"letter": "shawl"})
    assert set(already_running.versions.values()) == {"shawl"}


def test_a_version_fixed_where_it_has_no_crop_stays_and_is_counted() -> None:
    costs = {("roll", "square"): 0.0, ("shawl", "square"): None}
    given = assign(costs, MILL, fixed={"square": "shawl"})
    (place,) = given.placements
    assert (place.version, place.cost, place.fixed) == ("shawl", None, True)
    assert "It has no crop here: place one by hand" in place.sentence
    assert given.cost[0] == 1


def test_fixed_points_in_outlets_toml_of_another_set_are_passed_over() -> None:
    outlets = Outlets.from_mapping(tomllib.loads(TEXT + '[fixed]\nsquare = "lantern"'))
    assert assign({("roll", "square"): 0.0}, outlets).versions == {"square": "roll"}


def refused(costs: dict[tuple[str, str], Cost | None], **terms: dict[str, str]) -> str:
    with pytest.raises(RivalsError) as caught:
        assign(costs, MILL, **terms)  # type: ignore[arg-type]
    assert caught.value.exit_code == EXIT_RIVALS_CLASH
    return str(caught.value)


BOTH: dict[tuple[str, str], Cost | None] = {
    (version, place): 0.0 for version in ("roll", "shawl") for place in ("square", "folio", "cover")
}


def test_fixed_rivals_before_one_audience_clash() -> None:
    said = refused(BOTH, fixed={"square": "roll", "tall": "shawl"})
    assert said.startswith("'roll' is fixed for square and its rival 'shawl' for tall")
    assert "the audience 'followers' would see both. Fix one version for both" in said


def test_fixed_rivals_may_clash_through_overlapping_audiences() -> None:
    said = refused({**BOTH, ("roll", "letter"): 0.0}, fixed={"square": "roll", "folio": "shawl"})
    assert "the audiences 'clients' and 'followers' would see both" in said


def test_a_fixed_point_may_not_break_an_exclusive() -> None:
    said = refused(BOTH, fixed={"cover": "roll", "folio": "roll"})
    assert "where the outlet 'gazette' keeps it to itself, and for folio too" in said


def test_a_fixed_point_may_not_break_a_promise() -> None:
    said = refused(BOTH, fixed={"square": "roll"}, exclusives={"roll": "portfolio"})
    assert "'roll' is fixed for square, yet it is promised to the outlet 'portfolio' alone" in said


def test_on_request_every_version_is_used() -> None:
    costs = {
        (version, place): weight
        for place in ("square", "avatar")
        for version, weight in (("roll", 0.1), ("shawl", 0.7 if place == "avatar" else 0.9))
    }
    assert set(assign(costs, MILL).versions.values()) == {"roll"}
    given = assign(costs, MILL, use_every_version=True)
    assert given.versions == {"avatar": "shawl", "square": "roll"}
    assert "every version was to be used at least once" in sentence(given, "avatar")


def test_every_version_cannot_be_used_before_a_single_audience() -> None:
    costs = {(version, "square"): 0.0 for version in ("roll", "shawl")}
    with pytest.raises(RivalsError, match="2 versions, and the destinations make 1 separate"):
        assign(costs, MILL, use_every_version=True)


def test_a_version_without_any_crop_cannot_be_used() -> None:
    costs = {("roll", "square"): 0.0, ("shawl", "square"): None}
    with pytest.raises(RivalsError, match="'shawl' has no crop in any destination"):
        assign(costs, MILL, use_every_version=True)


def test_costs_less_than_a_step_apart_are_a_tie_and_go_to_the_first_name() -> None:
    given = assign({("shawl", "square"): 0.301, ("roll", "square"): 0.309}, MILL)
    assert given.versions == {"square": "roll"}
    assert sentence(given, "square") == (
        "'roll' and 'shawl' do about as well here; 'roll' is taken."
    )
    assert given.runner_up is not None
    assert given.runner_up.versions == {"square": "shawl"}
    assert given.runner_up.extra == (0, 0)
    assert given.runner_up.sentence.startswith("Another choice does about as well")


def test_a_tie_does_not_part_the_destinations_of_one_audience() -> None:
    costs = {
        ("roll", "square"): 0.3,
        ("shawl", "square"): 0.305,
        ("roll", "tall"): 0.5,
        ("shawl", "tall"): 0.2,
    }
    given = assign(costs, MILL)
    assert set(given.versions.values()) == {"shawl"}
    assert sentence(given, "square") == (
        "'shawl' and 'roll' do about as well here; 'shawl' is taken."
    )


def test_the_runner_up_tells_in_steps_how_much_worse_it_is() -> None:
    runner_up = assign({("roll", "square"): 0.02, ("shawl", "square"): 0.27}, MILL).runner_up
    assert runner_up is not None
    assert runner_up.extra == (0, steps(0.27) - steps(0.02))
    assert "fits less well" in runner_up.sentence


def test_a_version_alone_is_said_to_be_alone() -> None:
    given = assign({("roll", "square"): 0.0}, MILL)
    assert sentence(given, "square") == "'roll' is the only version with a crop here."
    assert given.runner_up is None


def test_nothing_asked_is_nothing_assigned() -> None:
    given = assign({}, Outlets())
    assert given.placements == ()
    assert given.runner_up is None


def test_names_that_do_not_exist_are_misuse() -> None:
    with pytest.raises(MisuseError, match=r"no version 'lantern'. Versions: roll"):
        assign({("roll", "square"): 0.0}, MILL, fixed={"square": "lantern"})
    with pytest.raises(MisuseError, match=r"no outlet 'kiosk'. Outlets: gazette"):
        assign({("roll", "square"): 0.0}, MILL, exclusives={"roll": "kiosk"})


def test_too_many_versions_to_tell_apart_are_refused() -> None:
    costs = {(f"v{at:02}", "cover"): 0.0 for at in range(11)}
    with pytest.raises(MisuseError, match="11 versions are too many"):
        assign(costs, MILL)
