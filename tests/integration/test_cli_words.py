"""``cropper words``: a starter that says nothing yet, then a table of what files will say."""

from __future__ import annotations

import json
import re
import textwrap
from datetime import date
from pathlib import Path

import pytest

from cropper.errors import EXIT_CANNOT, EXIT_DONE, EXIT_PRESET_AT_FAULT
from cropper.job.wording import read_words, words_for
from cropper.job.wording_reading import from_text
from cropper.job.wording_remarks import Known, remarks
from cropper.job.wording_starter import starter_text
from tests.integration.conftest import Draw, Run

pytestmark = pytest.mark.usefixtures("looker")

ROOT = Path(__file__).resolve().parents[2]
WORDS = """
caption = "Ilse Marrow in wool by Fernhollow Mill, in copper light."
[copyright]
year = 2026
owner = "R. Quillfeather"
[[credit]]
role = "photographer"
name = "R. Quillfeather"
[[credit]]
role = "model"
name = "Ilse Marrow"
[[credit]]
role = "stylling"
name = "withheld"
[licence."*"]
terms = "No use without a licence."
[version.ilse]
alt_text = "A woman in a grey roll-neck looks into the camera."
[version.ilsa]
alt_text = "Another."
[destination.tall-post]
caption_length = 24
[destination.tallpost]
short = true
"""


@pytest.fixture
def job(run: Run, draw: Draw, tmp_path: Path) -> Path:
    place = tmp_path / "job"
    run(
        "plan", draw("ilse.jpg"), draw("wool.jpg"), "--for", "square-post,tall-post", "--job", place
    )
    return place


def test_the_first_call_writes_a_starter_that_says_nothing_yet(run: Run, job: Path) -> None:
    told = run("words", "--job", job)
    assert told.exit_code == EXIT_DONE
    assert "is written" in told.output
    text = (job / "words.toml").read_text(encoding="utf-8")
    assert '[version."ilse"]' in text
    assert '[destination."tall-post"]' in text
    words = read_words(job)
    assert not words.credits
    assert not any(one.caption or one.alt_text for one in words.told)


def test_every_example_of_the_starter_is_right_when_its_comment_goes(run: Run, job: Path) -> None:
    run("words", "--job", job)
    lines = (job / "words.toml").read_text(encoding="utf-8").splitlines()
    live = [line.removeprefix("# ") if _says(line) else line for line in lines]
    words = from_text("\n".join(live).encode())
    assert words.name_people
    assert [one.role for one in words.credits] == ["photographer"]
    assert words.manner("square-post").caption_length == 300
    assert words.licence("anybody").until == date(2028, 2, 28)


def _says(line: str) -> bool:
    """Whether a commented line holds a key or a table."""
    return re.match(r"# (\[|\w+ = )", line) is not None


def test_a_file_that_is_there_is_shown_and_never_written_to(run: Run, job: Path) -> None:
    (job / "words.toml").write_text(WORDS, encoding="utf-8")
    told = run("words", "--job", job)
    assert told.exit_code == EXIT_DONE
    assert (job / "words.toml").read_text(encoding="utf-8") == WORDS
    for said in (
        "Photo: R. Quillfeather",
        "caption to copy was cut to 24 characters",
        "the name is withheld for stylling",
        "'wool' has no alt text",
        "There is no release of Ilse Marrow.",
        "The job has no version 'ilsa'; did you mean 'ilse'?",
        "The job has no destination 'tallpost'; did you mean 'tall-post'?",
        "did you mean 'styling'?",
        "Rights and releases are yours to confirm.",
    ):
        assert said in told.output, said


def test_scripts_get_every_version_at_every_destination(run: Run, job: Path) -> None:
    (job / "words.toml").write_text(WORDS, encoding="utf-8")
    told = json.loads(run("words", "--job", job, "--json").stdout)
    pairs = {(row["version"], row["destination"]) for row in told["rows"]}
    assert pairs == {(v, d) for v in ("ilse", "wool") for d in ("square-post", "tall-post")}
    tall = next(row for row in told["rows"] if row["destination"] == "tall-post")
    assert tall["caption"] == "Ilse Marrow in wool by…"


def test_faults_of_the_file_are_said_with_their_place(run: Run, job: Path) -> None:
    (job / "words.toml").write_text("[[credit]]\nrole = 'hair'\n", encoding="utf-8")
    told = run("words", "--job", job)
    assert told.exit_code == EXIT_PRESET_AT_FAULT
    assert "credit.1.name: is missing" in told.output


def test_a_folder_without_a_plan_says_how_to_make_one(run: Run, tmp_path: Path) -> None:
    told = run("words", "--job", tmp_path)
    assert told.exit_code == EXIT_CANNOT
    assert "cropper plan" in told.output


def test_what_has_ended_is_said() -> None:
    words = from_text(
        b"""
[[release]]
person = "Ilse Marrow"
status = "unlimited"
until = 2026-02-28
[licence."*"]
until = 2026-02-28
"""
    )
    known = Known(versions=(), destinations=())
    ended = remarks(words, known, today=date(2026, 3, 1))
    assert "The release of Ilse Marrow ended on 2026-02-28." in ended
    assert "The licence for everybody ended on 2026-02-28." in ended
    last_day = remarks(words, known, today=date(2026, 2, 28))
    assert not [one for one in last_day if "ended" in one]


def test_a_text_that_names_somebody_without_a_release_is_pointed_out() -> None:
    none = '[[release]]\nperson = "Ilse Marrow"\nstatus = "none"\n'
    known = Known(versions=(), destinations=())
    named = from_text(f'caption = "Ilse Marrow in wool"\n{none}'.encode())
    said = "Ilse Marrow has given no release, and the texts name them."
    assert said in remarks(named, known, today=date(2026, 3, 1))
    silent = remarks(from_text(none.encode()), known, today=date(2026, 3, 1))
    assert "Ilse Marrow has given no release." in silent


def test_any_version_name_makes_a_starter_that_reads() -> None:
    names = ['a "b"', "x.y]", "\x1b\x7f", "漢字", "\\", "{0}"]
    told = from_text(starter_text(names, ()).encode()).told
    assert [one.version for one in told] == names


def test_the_words_of_the_how_to_are_read_as_they_stand_there() -> None:
    page = (ROOT / "docs/how-to/credit-and-licence.md").read_text(encoding="utf-8")
    blocks = re.findall(r"(?:^    .*\n|^\n(?=    ))+", page, re.MULTILINE)
    texts = [textwrap.dedent(one) for one in blocks if " = " in one]
    assert len(texts) == 3
    words = from_text(texts[0].encode())
    assert [one.role for one in words.credits] == ["photographer", "makeup", "hair"]
    told = words_for(words, version="shawl", destination="story", recipient="client")
    assert told.credit_line == "Photo R. Quillfeather / Make-up T. Lindqvist-Hale"
    for other in texts[1:]:
        assert from_text(other.encode()).manners
