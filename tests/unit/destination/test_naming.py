"""File names: a short list of fields, portable characters, nothing a name could break out with."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cropper.destination.naming import FIELDS, LONGEST_BYTES, file_stem, pieces, portable

USUAL = "{version}_{destination}_{width}x{height}"


def test_a_pattern_falls_into_text_and_fields() -> None:
    assert [(piece.text, piece.field) for piece in pieces("{set}-{version}_x")] == [
        *(("set", True), ("-", False), ("version", True), ("_x", False))
    ]


@pytest.mark.parametrize("field", FIELDS)
def test_every_field_may_be_asked_for(field: str) -> None:
    assert pieces(f"{{master}}_{{{field}}}")


@pytest.mark.parametrize(
    ("pattern", "said"),
    [
        ("{version", "opens a brace that is never closed"),
        ("version}", "closes a brace that was never opened"),
        ("{version}}", "closes a brace that was never opened"),
        ("{version.real}", "asks for {version.real}, which is no field"),
        ("{version!r}", "asks for {version!r}"),
        ("{version:>99999999}", "asks for {version:>99999999}"),
        ("{version[0]}", "asks for {version[0]}"),
        ("{}{version}", "asks for {}"),
        ("{{version}}", "asks for {{version}"),
        ("{destination}", "would give every picture one name"),
        ("cover", "would give every picture one name"),
        ("../{version}", "holds '/', which not every disk"),
        ("{version} final", "holds ' '"),
        ("{version}:a", "holds ':'"),
        ("-{version}", "may not begin with a hyphen or a dot"),
        (".{version}", "may not begin with a hyphen or a dot"),
        ("", "would give every picture one name"),
    ],
)
def test_a_pattern_that_is_refused(pattern: str, said: str) -> None:
    with pytest.raises(ValueError, match=re.escape(said)):
        pieces(pattern)


def test_names_lose_what_disks_and_mail_cannot_carry() -> None:
    values: dict[str, str | int] = {
        "version": "Tøve & Ilse: Übergang",
        "destination": "story",
        "width": 9,
        "height": 16,
    }
    assert file_stem(USUAL, values) == "T-ve-Ilse-Ubergang_story_9x16"
    assert portable("-cover(final).jpg") == "cover-final-.jpg"


def test_an_empty_field_takes_its_separator_along() -> None:
    assert file_stem("{set}_{recipient}_{version}", {"version": "a"}) == "a"


def test_a_name_of_nothing_portable_is_still_a_name() -> None:
    assert file_stem("{version}", {"version": "///"}) == "picture"


def test_names_of_devices_are_stepped_around() -> None:
    assert file_stem("{version}", {"version": "con"}) == "_con"
    assert file_stem("{version}", {"version": "LPT1.x"}) == "_LPT1.x"


@given(st.fixed_dictionaries({field: st.text(max_size=200) for field in FIELDS}))
def test_whatever_the_words_a_name_is_portable_and_short(values: dict[str, str]) -> None:
    said = file_stem("{set}_{version}_{destination}_{recipient}.{master}-{date}", values)
    assert re.fullmatch(r"[A-Za-z0-9_][A-Za-z0-9._-]*", said)
    assert len(said) <= LONGEST_BYTES - 15 + 1
    assert said[-1] not in ".-"
