"""Tags find their words in any language, and say nothing of what they do not find."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cropper.errors import PresetError
from cropper.publication.responses import Remark
from cropper.publication.tags import STARTER, Tagger, TagList, fold, sightings

EYES = TagList(words={"eyes": ("eye", "eyes", "目", "глаза", "आँखें", "عيون", "눈*", "Straße")})
TWO = TagList(words={"eyes": ("eyes",), "light": ("light*",), "hair": ("hair",)})


@pytest.mark.parametrize(
    "said",
    [
        "Her EYES!",
        "the eye-line",
        "目が綺麗",
        "綺麗な目！",
        "её ГЛАЗА.",
        "आँखें सुंदर",
        "عيون جميلة",
        "눈이 예뻐요",
        "STRASSE",
        "ＥＹＥＳ",
    ],
)
def test_a_word_is_found_in_any_script_and_case(said: str) -> None:
    assert Tagger(EYES).seen_in(said) == {"eyes"}


@pytest.mark.parametrize("said", ["eyebrows", "eyed", "आँख", "no word of it", "👀"])
def test_a_word_is_not_found_inside_another(said: str) -> None:
    assert not Tagger(EYES).seen_in(said)


@pytest.mark.parametrize(
    ("said", "tags"),
    [
        ("make‑up and hair", {"styling"}),
        ("👀👀", {"eyes"}),
        ("smiling, and look in\nher eyes", {"eyes", "expression"}),
        ("Strickjacke im Licht", {"garment", "light"}),
    ],
)
def test_the_starter_knows_phrases_stars_and_pictograms(said: str, tags: set[str]) -> None:
    starter = TagList.from_mapping(tomllib.loads(STARTER))
    assert Tagger(starter).seen_in(said) == tags


def test_negation_is_counted_as_it_is_written() -> None:
    """Said so on the page and in the report: words are counted, not understood."""
    assert Tagger(TWO).seen_in("not the eyes at all") == {"eyes"}


@given(st.text(max_size=60))
def test_folding_twice_changes_nothing_more(text: str) -> None:
    assert fold(fold(text)) == fold(text)


def remarks(*texts: str) -> Iterator[Remark]:
    for row, text in enumerate(texts, start=1):
        yield Remark(
            question="q", text=text, outlet="feed", source="x", row=row, version="roll-neck"
        )


def test_remarks_are_counted_once_for_each_tag_and_compared_tag_by_tag() -> None:
    (told,) = sightings(remarks("eyes eyes", "eyes and light", "lights", "wow", "light"), TWO)
    assert told.remarks == 5
    assert dict(told.mentions) == {"eyes": 2, "light": 3, "hair": 0}
    assert told.alone["eyes", "light"] == 1
    assert told.alone["light", "eyes"] == 2
    assert told.untagged == 1


@given(st.lists(st.lists(st.sampled_from(["eyes", "lights", "hair", "wow"])).map(" ".join)))
def test_mentions_alone_and_together_add_up(texts: list[str]) -> None:
    said = [text for text in texts if text.strip()]
    for told in sightings(remarks(*said), TWO):
        assert told.remarks == len(said)
        for tag, other in told.alone:
            both = told.mentions[tag] - told.alone[tag, other]
            assert both == told.mentions[other] - told.alone[other, tag] >= 0


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "it holds no tags"),
        ("tags = 3", "3 is not a table"),
        ("[tags]\neyes = 'eye'", "'eye' is not a list of words"),
        ("[tags]\neyes = ['*']", "'*' is not a word"),
        ("[tags]\neyes = ['eye']\n[intent]\nroll-neck = ['eyse']", "there is no tag 'eyse'"),
        ("[tag]\neyes = ['eye']", "'tag' is not known here"),
        (f"[tags]\neyes = ['{'x' * 99}']", "too long to be looked for"),
    ],
)
def test_a_faulty_list_says_what_and_where(text: str, sentence: str) -> None:
    with pytest.raises(PresetError, match=r"tags\.toml") as caught:
        TagList.from_mapping(tomllib.loads(text))
    assert sentence in str(caught.value)


def test_all_faults_are_told_at_once() -> None:
    with pytest.raises(PresetError, match="2 faults") as caught:
        TagList.from_mapping({"tags": {"eyes": [], "light": "glow"}})
    assert "tags.toml.tags.light" in str(caught.value)
