"""A photographer's outlets.toml is read once, and its faults are named together."""

from __future__ import annotations

import tomllib

import pytest

from cropper.errors import EXIT_PRESET_AT_FAULT, PresetError
from cropper.publication.outlets import STARTER, Outlet, OutletKind, Outlets


def read(text: str) -> Outlets:
    return Outlets.from_mapping(tomllib.loads(text))


def fault(text: str) -> str:
    with pytest.raises(PresetError) as caught:
        read(text)
    assert caught.value.exit_code == EXIT_PRESET_AT_FAULT
    return str(caught.value)


MILL = """
[outlets.pages]
kind = "stream"
audience = "followers"
[outlets.gazette]
kind = "placed"
audience = ["readers", "followers"]
owner = "Fernhollow Mill"
exclusive = true
[destinations]
square-post = "pages"
tall-post = ["pages"]
cover = "gazette"
"""


def test_the_starter_text_is_a_file_that_reads_well() -> None:
    outlets = read(STARTER)
    assert outlets.audience("square-post") == {"followers"}
    assert outlets.of("cover-a4")[0].owner == "Fernhollow Mill"


def test_an_empty_file_says_nothing_and_is_allowed() -> None:
    assert Outlets.from_mapping({}) == Outlets()
    assert Outlets().of("square-post") == ()
    assert Outlets().audience("square-post") == frozenset()


def test_one_name_and_a_list_of_names_mean_the_same() -> None:
    outlets = read(MILL)
    assert outlets.runs_in["square-post"] == outlets.runs_in["tall-post"] == ("pages",)
    assert outlets.outlets["gazette"].audience == {"readers", "followers"}


def test_a_destination_knows_the_outlet_that_keeps_its_picture() -> None:
    outlets = read(MILL)
    assert outlets.exclusive_outlet("cover") == "gazette"
    assert outlets.exclusive_outlet("square-post") is None
    assert outlets.only_in("cover", "gazette")
    assert not outlets.only_in("elsewhere", "gazette")


def test_an_outlet_without_anybody_who_looks_is_a_programmers_mistake() -> None:
    with pytest.raises(ValueError, match="audience"):
        Outlet(name="pages", kind=OutletKind.STREAM, audience=frozenset())


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('outlets = "pages"', "outlets.toml.outlets: 'pages' is not a table"),
        ("[outlet]", "outlets.toml.outlet: 'outlet' is not known here. Known: outlets,"),
        ("[outlets]\npages = 3", "outlets.toml.outlets.pages: 3 is not an outlet"),
        (
            '[outlets.pages]\naudience = "all"',
            "outlets.toml.outlets.pages.kind: missing: how it shows pictures",
        ),
        (
            '[outlets.pages]\nkind = "feed"\naudience = "all"',
            "outlets.toml.outlets.pages.kind: 'feed' is not a kind. Write kind = \"stream\"",
        ),
        (
            '[outlets.pages]\nkind = "stream"',
            "outlets.toml.outlets.pages.audience: missing: a name for who looks there",
        ),
        (
            '[outlets.pages]\nkind = "stream"\naudience = ["all", 3]',
            "outlets.toml.outlets.pages.audience: ['all', 3] is not a name",
        ),
        (
            '[outlets.pages]\nkind = "stream"\naudience = []',
            "outlets.toml.outlets.pages.audience: [] is not a name",
        ),
        (
            '[outlets.pages]\nkind = "stream"\naudience = "all"\nowner = 3',
            "outlets.toml.outlets.pages.owner: 3 is not text",
        ),
        (
            '[outlets.pages]\nkind = "stream"\naudience = "all"\nexclusive = "yes"',
            "outlets.toml.outlets.pages.exclusive: 'yes' is neither true nor false",
        ),
        (
            '[outlets.pages]\nkind = "stream"\naudience = "all"\nurl = "x"',
            "outlets.toml.outlets.pages.url: 'url' is not known here",
        ),
        (
            '[destinations]\nsquare-post = "pages"',
            "outlets.toml.destinations.square-post: there is no outlet 'pages'. Add a table",
        ),
        ("[destinations]\nsquare-post = 3", "outlets.toml.destinations.square-post: 3 is not the"),
        ("[fixed]\nsquare-post = 3", "outlets.toml.fixed.square-post: 3 is not the name of a ver"),
        ('[exclusive]\nshawl = "x"', "outlets.toml.exclusive.shawl: there is no outlet 'x'"),
    ],
)
def test_a_fault_names_the_file_the_table_the_key_and_what_would_be_right(
    text: str, said: str
) -> None:
    assert fault(text).startswith(said)


def test_all_faults_are_told_in_one_go() -> None:
    said = fault('[outlets.pages]\nkind = "feed"\n[destinations]\nsquare-post = "page"')
    assert len(said.splitlines()) == 3


def test_an_exclusive_outlet_may_not_share_a_file_with_another() -> None:
    said = fault(MILL + 'story = ["gazette", "pages"]')
    assert "'gazette' is exclusive, yet the same file runs in 'pages'" in said


def test_names_that_the_job_does_not_know_are_pointed_out() -> None:
    outlets = read(MILL + '[fixed]\ncover = "shawll"\n[exclusive]\nroll = "gazette"')
    said = outlets.strangers(["shawl", "roll"], ["cover", "square-post"])
    assert said == (
        "[fixed] speaks of the version 'shawll', which this job does not hold.",
        "The destination 'tall-post' is not among those planned.",
    )
