"""The words of a job: read from words.toml, and chosen for one file."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cropper.deliverable.words import Contributor
from cropper.errors import EXIT_PRESET_AT_FAULT, PresetError
from cropper.job.credit_lines import credit_line, flaw, roles_in
from cropper.job.job_words import NO_JOB_WORDS, Credit, JobWords, LicenceTerms, Manner, Told
from cropper.job.wording import Worded, read_words, words_for
from cropper.job.wording_reading import KEYS, _Reading, from_text

FULL = """
language = "en"
name_people = true
headline = "Wool & copper"
caption = "Ilse Marrow in a roll-neck by Fernhollow Mill."
taken = 2026-03-01

[copyright]
year = 2026
owner = "R. Quillfeather"

[[credit]]
role = "photographer"
name = "R. Quillfeather"
short = "Quillfeather"

[[credit]]
role = "makeup"
name = "Tove Lindqvist-Hale"
order = 1

[[credit]]
role = "model"
name = "Ilse Marrow"
order = 2

[[credit]]
role = "hair"
name = "withheld"
order = 3

[[release]]
person = "Ilse Marrow"
status = "limited"
signed = 2026-02-27
until = 2028-02-28
scope = "Fernhollow Mill's own shops and pages"

[licence."*"]
terms = "No use without a licence."
licensor = "R. Quillfeather"
web_statement = "https://quillfeather.example/terms"

[licence.client]
terms = "Own shops and pages for two years."
until = 2028-02-28

[version.shawl]
caption = "A hooded shawl in copper light."
alt_text = "A woman in a hooded shawl looks into the camera."

[[translation]]
language = "de"
version = "shawl"
caption = "Ein Tuch mit Kapuze im Kupferlicht."

[destination.story]
credit_line = "Photo {photographer}[ / Make-up {makeup}][ / Hair {hair}]"
short = true
caption_length = 20

[destination.gazette]
language = "de"
roles = ["photographer"]
"""


def words(text: str = FULL) -> JobWords:
    return from_text(text.encode())


def worded(version: str = "shawl", destination: str = "feed", recipient: str = "") -> Worded:
    return words_for(words(), version=version, destination=destination, recipient=recipient)


def test_a_file_says_who_made_it_and_what_it_shows() -> None:
    file = worded().words
    assert file.creator == "R. Quillfeather"
    assert file.copyright == "© 2026 R. Quillfeather"
    assert file.headline == "Wool & copper"
    assert file.caption == "A hooded shawl in copper light."
    assert file.alt_text == "A woman in a hooded shawl looks into the camera."
    assert file.date_created == "2026-03-01"
    assert file.contributors == (
        Contributor(name="Tove Lindqvist-Hale", role="makeup"),
        Contributor(name="Ilse Marrow", role="model"),
    )


def test_a_withheld_name_is_nowhere_and_its_absence_is_said() -> None:
    file = worded(destination="story")
    assert file.credit_line == "Photo Quillfeather / Make-up Tove Lindqvist-Hale"
    assert "the name is withheld for hair" in file.notes
    assert "hair" not in repr(file.words)
    assert "withheld" not in repr(file.words)


def test_people_are_named_in_the_file_only_when_asked() -> None:
    asked = FULL.replace("name_people = true", "name_people = false")
    assert worded().words.people == ("Ilse Marrow",)
    silent = words_for(words(asked), version="shawl", destination="feed", recipient="").words
    assert silent.people == ()
    assert [one.role for one in silent.contributors] == ["makeup"]


def test_a_recipient_has_their_own_terms_and_everybody_else_the_usual_ones() -> None:
    assert worded(recipient="client").words.usage_terms == "Own shops and pages for two years."
    assert worded(recipient="client").words.licence_until == "2028-02-28"
    assert worded(recipient="client").words.licensor == "R. Quillfeather"
    assert worded(recipient="client").words.web_statement == ""
    assert worded(recipient="gazette").words.usage_terms == "No use without a licence."
    assert worded().words.web_statement == "https://quillfeather.example/terms"


def test_the_caption_to_copy_is_cut_at_a_word_and_said_while_the_file_has_it_whole() -> None:
    story = worded(destination="story")
    assert story.caption == "A hooded shawl in…"
    assert story.words.caption == "A hooded shawl in copper light."
    assert any("caption to copy was cut to 20 characters" in note for note in story.notes)


def test_a_destination_gets_its_language_where_it_is_there() -> None:
    gazette = worded(destination="gazette")
    assert gazette.language == "de"
    assert gazette.caption == "Ein Tuch mit Kapuze im Kupferlicht."
    assert gazette.credit_line == "Photo: R. Quillfeather"
    assert "the alt text is not there in 'de'" in gazette.notes


@pytest.mark.parametrize(
    ("statuses", "code"),
    [
        (["unlimited", "unlimited"], "MR-UMR"),
        (["unlimited", "none"], "MR-LMR"),  # PLUS: limited or incomplete
        (["none", "not needed"], "MR-NON"),
        (["not needed"], "MR-NAP"),
        (["MR-LMR"], "MR-LMR"),
        ([], ""),
    ],
)
def test_several_releases_make_one_status(statuses: list[str], code: str) -> None:
    text = "".join(f'[[release]]\nperson="P{at}"\nstatus="{s}"\n' for at, s in enumerate(statuses))
    file = words_for(words(text), version="a", destination="b", recipient="").words
    assert file.release_status == code


def test_a_job_without_the_file_has_no_words(tmp_path: Path) -> None:
    none = read_words(tmp_path)
    assert none == NO_JOB_WORDS
    assert words_for(none, version="a", destination="b", recipient="c") == Worded()


def test_all_faults_are_said_at_once_each_with_its_place() -> None:
    wrong = """
captoin = "x"
[[credit]]
role = "photographer"
[[credit]]
role = "makeup"
name = "Tove Lindqvist-Hale"
ordre = 2
[[release]]
person = "Ilse Marrow"
status = "yes"
until = "2027-01-01"
[licence."*"]
web_statement = "my page"
[destination.story]
credit_line = "Photo {photografer}"
caption_length = 0
[destination.feed]
credit_line = "Photo [{photographer}"
[destination.banner]
roles = ["hiar"]
"""
    with pytest.raises(PresetError) as fault:
        words(wrong)
    said = str(fault.value)
    for line in (
        "words.toml: 9 faults in the words",
        "captoin: is no key of this file. Did you mean caption?",
        "credit.1.name: is missing",
        "credit.2.ordre: is no key here; did you mean order?",
        "release.1.status: 'yes' is none of 'none' (MR-NON)",
        "release.1.until",
        "licence.*.web_statement",
        "destination.story.caption_length",
        "destination.feed.credit_line: 'Photo [{photographer}' has a [ or ]",
        "destination.banner.roles: nobody is credited as 'hiar'. Write 'hair'",
    ):
        assert line in said, line
    assert fault.value.exit_code == EXIT_PRESET_AT_FAULT


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (b"\xff\xfe", "is not UTF-8 text"),
        (b"headline = ", "is not TOML"),
        (b"credit = 3", "write [[credit]]"),
        (b"version = 3", "write [version.NAME]"),
        (b"[version]\nshawl = 3", "is not a table such as [version.shawl]"),
        (b"[copyright]\nyear = 2026", "owner is missing"),
        (b"headline = 3", "is not text in quotes"),
        (b"#" + b"x" * 4_000_001, "is larger than"),
    ],
)
def test_a_file_that_is_no_words_says_what_it_is(text: bytes, said: str) -> None:
    with pytest.raises(PresetError) as fault:
        from_text(text)
    assert said in str(fault.value)


def test_a_gap_in_a_credit_line_is_said() -> None:
    job = JobWords(
        credits=(Credit(role="photographer", name="withheld"),),
        manners=(Manner(destination="feed", pattern="Photo {photographer}"),),
    )
    notes = words_for(job, version="a", destination="feed", recipient="").notes
    assert any("has a gap for photographer: put [ ]" in note for note in notes)


def test_a_pattern_keeps_what_stands_and_drops_what_has_no_name() -> None:
    makeup = Credit(role="makeup", name="T")
    line = Manner(destination="d", pattern="[Photo {photographer} / ]Make-up {makeup}")
    assert credit_line([makeup], line) == "Make-up T"
    assert roles_in(line.pattern) == ("photographer", "makeup")
    assert flaw("a [b [c]]")
    assert flaw("a {b")
    assert flaw("plain [with {role}]") is None


@given(text=st.text(max_size=200), most=st.integers(1, 60))
def test_any_caption_is_cut_to_its_length_visibly_or_left_alone(text: str, most: int) -> None:
    job = JobWords(
        told=(Told(caption=text),), manners=(Manner(destination="d", caption_length=most),)
    )
    file = words_for(job, version="v", destination="d", recipient="")
    if file.caption != file.words.caption:
        assert "…" in file.caption
        assert any("caption to copy was cut" in note for note in file.notes)


@given(name=st.text(min_size=1, max_size=40))
def test_equal_words_have_equal_ground(name: str) -> None:
    def made() -> Worded:
        licence = LicenceTerms(recipient="*", terms=name)
        job = JobWords(credits=(Credit(role="makeup", name=name),), licences=(licence,))
        return words_for(job, version="a", destination="b", recipient="c")

    assert repr(made()) == repr(made())
    assert hash(made()) == hash(made())


def test_a_name_withheld_in_any_spelling_is_withheld() -> None:
    for name in ("withheld", "Withheld", " WITHHELD "):
        job = words(f'[[credit]]\nrole = "hair"\nname = "{name}"\n')
        file = words_for(job, version="a", destination="b", recipient="")
        assert file.credit_line == ""
        assert file.words.contributors == ()


def test_what_stands_between_names_is_never_taken_from_a_name() -> None:
    line = Manner(destination="d", pattern="{photographer}[ and {hair}]", between=" and ")
    assert credit_line([Credit(role="photographer", name="dan Ann")], line) == "dan Ann"
    gone = Manner(destination="d", pattern="[{hair} / ]{photographer}[ / {makeup}]")
    assert credit_line([Credit(role="photographer", name="dan Ann")], gone) == "dan Ann"


def test_control_characters_are_left_out_and_that_is_said() -> None:
    file = words_for(
        words('caption = "Wool\\u0000 and\\u001b[31m copper"'),
        version="a",
        destination="b",
        recipient="",
    )
    assert file.caption == "Wool and[31m copper"
    assert "2 control characters were left out of the caption" in file.notes


def test_a_turn_of_direction_left_open_does_not_turn_what_follows() -> None:
    job = JobWords(told=(Told(caption="Wool \u202e\u2067 copper"),))
    caption = words_for(job, version="a", destination="b", recipient="").caption
    assert caption.endswith("\u2069\u202c")  # Unicode Annex 9: PDI ends RLI, PDF ends RLO


KEYS_AND_MORE = st.sampled_from([*KEYS, "shawl", "role", "name", "*", "terms", "person", "x"])
VALUES: st.SearchStrategy[object] = st.recursive(
    st.text(max_size=8) | st.integers() | st.booleans() | st.dates() | st.floats(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS_AND_MORE, inner, max_size=4),
    max_leaves=12,
)


@given(parsed=st.dictionaries(KEYS_AND_MORE, VALUES, max_size=6))
def test_any_file_is_words_or_says_what_is_wrong(parsed: dict[str, object]) -> None:
    with suppress(PresetError):  # the only fault there may be
        made = _Reading(parsed).words()
        words_for(made, version="shawl", destination="x", recipient="*")
