"""`cropper feedback` and `cropper report` on a real record, from the question to the page."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pypdf
import pytest
from click.testing import CliRunner, Result

from cropper.account import report_pictures
from cropper.account.tallying import count, declare, told
from cropper.cli.main import cropper
from cropper.publication.outlets import Outlet, OutletKind
from cropper.publication.reading import Call
from cropper.publication.responses import Count, Design, Measure, Question
from cropper.publication.runs import Run
from cropper.publication.spans import Span
from cropper.record import Stamp, open_record

NOW = datetime.now(UTC)
DAY = timedelta(days=1)
DEMO = Path(__file__).resolve().parents[2] / "demo_images"
Ask = Callable[..., Result]

TAGS = """
[tags]
eyes = ["eye*", "gaze"]
light = ["light*"]
[intent]
roll-neck = ["eyes"]
"""

COUNT = ("feedback", "count", "knitwear", "which-cover", "hooded-shawl=3", "roll-neck=4")


@pytest.fixture
def record(tmp_path: Path) -> Path:
    return tmp_path / "record.sqlite"


@pytest.fixture
def ask(record: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Ask:
    """Run a verb of the tally on this test's own record."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("CROPPER_RECORD", str(record))

    def run(*words: str) -> Result:
        return CliRunner().invoke(cropper, list(words), catch_exceptions=False)

    return run


@pytest.fixture
def poll(ask: Ask) -> Ask:
    done = ask(
        *("feedback", "ask", "knitwear", "which-cover", "--as", "one-poll"),
        *("--versions", "hooded-shawl,roll-neck", "--meant", "roll-neck=eyes"),
        *("--wording", "Which would you put on the cover?"),
    )
    assert done.exit_code == 0, done.output
    return ask


def test_from_the_question_to_a_plain_answer(poll: Ask) -> None:
    noted = poll(
        *("feedback", "count", "knitwear", "which-cover", "hooded-shawl=48", "roll-neck=52"),
        *("--at", "studio-feed"),
    )
    assert noted.exit_code == 0
    shown = poll("feedback", "show", "knitwear")
    assert "820 answers would tell 55 from 45 with 80 % power" in shown.stdout
    assert "You may not say: That one is the better picture" in shown.stdout


def test_json_holds_the_reading_for_scripts(poll: Ask) -> None:
    poll(
        *("feedback", "count", "knitwear", "which-cover", "hooded-shawl=30", "roll-neck=70"),
        *("--at", "studio-feed"),
    )
    read = json.loads(poll("feedback", "show", "knitwear", "which-cover", "--json").stdout)
    (one,) = read["questions"]
    assert (one["call"], one["ahead"], one["answers"]) == ("ahead", "roll-neck", 100)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("roll-neck=-3", "--at", "feed"), "-3 votes for 'roll-neck' cannot be"),
        (("roll-neck=many", "--at", "feed"), "is not a whole number"),
        (("roll-neck", "--at", "feed"), "is not NAME=VALUE"),
        (("cape=3", "--at", "feed"), "not about a version 'cape'"),
        (("roll-neck=3", "--at", "feed", "--when", "2199-01-01"), "still to come"),
        (("roll-neck=3", "--at", "feed", "--when", "2026-03-01T10:00"), "has no zone"),
        (("roll-neck=3", "--at", "feed", "--when", "lately"), "is no date"),
        (
            ("roll-neck=3", "--at", "feed", "--when", "2026-03-01", "--zone", "N"),
            "is not a time zone",
        ),
        (("roll-neck=3", "--at", "feed", "--reach", "cape=9"), "not counted here"),
        (("roll-neck/hooded-shawl=3", "--at", "feed"), "declared as one poll"),
        (("roll-neck=3", "--at", "feed", "--of", "mentions"), "mentions are counted for a tag"),
    ],
)
def test_what_cannot_be_counted_is_a_sentence_and_nothing_is_kept(
    poll: Ask, record: Path, words: tuple[str, ...], sentence: str
) -> None:
    done = poll("feedback", "count", "knitwear", "which-cover", "hooded-shawl=5", *words)
    assert done.exit_code == 2, done.output
    assert sentence in done.output
    with open_record(str(record)) as kept:
        assert kept.responses("knitwear").counts == ()


def test_totals_that_went_down_are_noted_and_kept(poll: Ask) -> None:
    words = ("feedback", "count", "knitwear", "which-cover", "--at", "feed")
    poll(*words, "roll-neck=9", "--when", "2026-03-01T10:00Z")
    again = poll(*words, "roll-neck=4", "--when", "2026-03-02T10:00Z")
    assert again.exit_code == 0
    assert "went down from 9 to 4" in again.stderr


def test_a_question_is_not_asked_twice_and_an_unknown_one_is_named(poll: Ask) -> None:
    again = poll(
        *("feedback", "ask", "knitwear", "which-cover", "--as", "pairs"),
        *("--versions", "hooded-shawl,roll-neck"),
    )
    assert again.exit_code == 2
    assert "already asked" in again.stderr
    missing = poll("feedback", "show", "knitwear", "which-wall")
    assert "Asked so far: which-cover" in missing.stderr


def test_without_an_end_fixed_beforehand_it_says_what_looking_costs(ask: Ask) -> None:
    words = ("feedback", "ask", "knitwear", "q", "--as", "one-poll", "--versions", "a,b")
    assert "210 answers tell 60 from 40 with 80 % power" in ask(*words).stderr
    assert "Look when you like" not in ask(*words[:3], "r", *words[4:], "--answers", "820").stderr


def test_remarks_are_taken_in_once_without_authors_and_told_beside_the_intent(
    poll: Ask, record: Path, tmp_path: Path
) -> None:
    tags = tmp_path / "tags.toml"
    tags.write_text(TAGS, encoding="utf-8")
    path = tmp_path / "remarks.csv"
    rows = "O. Invented,her eyes!\n" * 30 + "O. Invented,so light\n" * 8 + "X,\nX\n"
    path.write_text("author,text\n" + rows, encoding="utf-8")
    words = ("feedback", "remarks", "knitwear", "which-cover", str(path), "--at", "feed")
    first = poll(*words, "--under", "roll-neck")
    assert first.exit_code == 0, first.output
    assert "38 remarks taken in" in first.stdout
    assert "38 were there already" in poll(*words, "--under", "roll-neck").stdout
    with open_record(str(record)) as kept:
        assert {one.author for one in kept.remarks("knitwear", "which-cover")} == {""}
    shown = poll("feedback", "show", "knitwear", "--tags", str(tags)).stdout
    assert "meant eyes first; spoken of eyes in 30" in shown.replace("\n", " ")


def test_bad_rows_are_named_and_the_exit_code_says_so(poll: Ask, tmp_path: Path) -> None:
    path = tmp_path / "remarks.csv"
    path.write_text("text,version\nfine,roll-neck\nwhose?,cape\n", encoding="utf-8")
    done = poll("feedback", "remarks", "knitwear", "which-cover", str(path), "--at", "feed")
    assert done.exit_code == 6
    assert "Row 3: the question 'which-cover' is not about a version 'cape'" in done.stderr
    assert "1 remarks taken in" in done.stdout


def test_a_file_broken_half_way_leaves_nothing_half_recorded(
    poll: Ask, record: Path, tmp_path: Path
) -> None:
    path = tmp_path / "remarks.csv"
    path.write_text("text\n" + "fine\n" * 6_000 + '"' + "never " * 30_000, encoding="utf-8")
    done = poll("feedback", "remarks", "knitwear", "which-cover", str(path), "--at", "feed")
    assert done.exit_code == 1
    assert "nothing was taken in" in done.stderr
    with open_record(str(record)) as kept:
        assert list(kept.remarks("knitwear", "which-cover")) == []


def test_tags_are_begun_for_the_user_and_checked_afterwards(ask: Ask, tmp_path: Path) -> None:
    assert "is written" in ask("feedback", "tags").stdout
    assert "gaze" in ask("feedback", "tags").stdout
    (tmp_path / "data" / "cropper" / "tags.toml").write_text("[tags]\neyes = 3", encoding="utf-8")
    assert ask("feedback", "tags").exit_code == 3


def test_a_report_shows_pictures_runs_and_answers(
    poll: Ask, record: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    there = [DEMO / "fernhollow_a_frontal.jpg"]
    monkeypatch.setattr(
        report_pictures, "_files", lambda version, _: there if version == "roll-neck" else []
    )
    with open_record(str(record)) as kept:
        feed = Outlet(name="studio-feed", kind=OutletKind.STREAM, audience=frozenset({"all"}))
        kept.keep_outlets([feed], Stamp(at=NOW))
        run = Run(
            id="r1",
            piece="",
            version="roll-neck",
            set="knitwear",
            outlet="studio-feed",
            span=Span(NOW - 9 * DAY),
        )
        kept.record_run(run, Stamp(at=NOW))
    poll(
        *("feedback", "count", "knitwear", "which-cover", "hooded-shawl=48", "roll-neck=52"),
        *("--at", "studio-feed"),
    )
    done = poll("report", "knitwear", "--to", str(tmp_path / "out"), "--job", str(tmp_path))
    assert done.exit_code == 0, done.output
    page = (tmp_path / "out" / "report-knitwear.html").read_text(encoding="utf-8")
    assert page.count("data:image/jpeg") == 1
    assert "this job holds no such version" in page
    assert "Which would you put on the cover?" in page
    assert page.count("studio-feed") >= 1
    assert len(pypdf.PdfReader(tmp_path / "out" / "report-knitwear.pdf").pages) == 1


def test_a_report_of_an_unknown_set_is_a_sentence(poll: Ask, tmp_path: Path) -> None:
    done = poll("report", "hats", "--to", str(tmp_path / "out"))
    assert done.exit_code == 2
    assert "the record knows no set 'hats'" in done.stderr
    assert not (tmp_path / "out").exists()


def test_a_report_where_there_is_no_record_begins_none(ask: Ask, tmp_path: Path) -> None:
    before = sorted(tmp_path.rglob("*"))
    away = str(tmp_path / "new" / "record.sqlite")
    for words in ((), ("--record", away)):
        done = ask("report", "knitwear", "--to", str(tmp_path / "out"), *words)
        assert done.exit_code == 1
        assert "there is no record" in done.stderr
        assert "cropper record job DIR" in done.stderr
        assert "Traceback" not in done.output
    assert sorted(tmp_path.rglob("*")) == before


def test_a_folder_that_cannot_be_written_to_is_a_sentence(poll: Ask, tmp_path: Path) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("", encoding="utf-8")
    done = poll("report", "knitwear", "--to", str(blocked / "out"))
    assert done.exit_code == 1
    assert "could not be written" in done.stderr


def test_the_library_does_what_the_verbs_do(record: Path) -> None:
    with open_record(str(record)) as kept:
        question = Question(
            name="q", set="s", versions=("a", "b"), design=Design.SEPARATE_RUNS, declared_at=NOW
        )
        declare(kept, question)
        likes = [
            Count(
                question="q",
                version=version,
                outlet="feed",
                measure=Measure.LIKES,
                number=number,
                reach=900,
                at=NOW,
            )
            for version, number in (("a", 48), ("b", 90))
        ]
        count(kept, "s", likes, now=NOW)
        (one,) = told(kept, "s", tags=None, now=NOW)
    assert one.reading.call is Call.TOO_CLOSE


def test_a_count_at_an_outlet_that_the_record_does_not_know_is_pointed_out(
    poll: Ask, record: Path
) -> None:
    assert "Note:" not in poll(*COUNT, "--at", "my-pages").output
    feed = Outlet(name="my-pages", kind=OutletKind.STREAM, audience=frozenset({"followers"}))
    with open_record(str(record)) as kept:
        kept.keep_outlets([feed], Stamp(at=NOW))
    assert "Note:" not in poll(*COUNT, "--at", "my-pages").output
    slip = poll(*COUNT, "--at", "my-pagez")
    assert "knows no outlet 'my-pagez'. It knows my-pages." in slip.stderr
