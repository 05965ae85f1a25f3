"""The verbs of the record, as a photographer types them; what they print and how they exit."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from cropper.cli.main import cropper
from cropper.record import open_record

OUTLETS = """
[outlets.my-pages]
kind = "stream"
audience = "followers"

[outlets.mill-shop]
kind = "placed"
audience = ["followers", "buyers"]
commercial = true
zone = "Europe/Oslo"

[destinations]
page-header = "mill-shop"
"""


@pytest.fixture
def job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A job whose export left two rivals, and a record of its own beside it."""
    folder = tmp_path / "knitwear"
    (folder / "deliverables").mkdir(parents=True)
    rows = []
    for version in ("hood", "roll"):
        file = folder / "deliverables" / f"{version}_page-header.jpg"
        file.write_bytes(f"the bytes of {version}".encode())
        rows.append(
            {
                "file": file.name,
                "sha256": hashlib.sha256(file.read_bytes()).hexdigest(),
                "version": version,
                "set": "shawl",
                "destination": "page-header",
                "master_sha256": "0" * 64,
                "crop": [0, 0, 1800, 600],
                "straighten_deg": 0.0,
                "width": 1800,
                "height": 600,
            }
        )
    manifest = folder / "deliverables" / "manifest.json"
    manifest.write_text(json.dumps({"format": 1, "delivered": rows}))
    (folder / "outlets.toml").write_text(OUTLETS)
    monkeypatch.setenv("CROPPER_RECORD", str(tmp_path / "record.sqlite"))
    monkeypatch.setenv("TZ", "UTC")
    return folder


def typed(*words: object) -> Result:
    return CliRunner().invoke(cropper, [str(word) for word in words])


@pytest.fixture
def taken(job: Path) -> Path:
    done = typed("record", "job", job)
    assert done.exit_code == 0, done.output
    assert "2 of 2 finished files are new; new or changed: outlets 2, sets 1." in done.output
    return job / "deliverables"


def test_a_script_is_told_what_of_a_job_was_new(job: Path) -> None:
    first, again = (json.loads(typed("record", "job", job, "--json").stdout) for _ in range(2))
    assert (first["files"], first["new_files"], first["changed_outlets"]) == (2, 2, 2)
    assert (again["files"], again["new_files"], again["changed_outlets"]) == (2, 0, 0)
    assert first["unsettled"] == []


def test_a_run_is_recorded_and_its_rival_is_told_when_it_would_be_fine(taken: Path) -> None:
    hood, roll = taken / "hood_page-header.jpg", taken / "roll_page-header.jpg"
    when = ("--from", "2026-03-01", "--until", "2026-04-01")
    done = typed("record", "run", hood, "--at", "mill-shop", *when)
    assert done.exit_code == 0, done.output
    assert "from 1 March 2026 until 1 April 2026 (Europe/Oslo)." in done.output
    asked = typed(
        "allowed", roll, "--at", "my-pages", "--from", "2026-03-31", "--zone", "Europe/Oslo"
    )
    assert asked.exit_code == 4
    assert "before the same audience (followers)" in " ".join(asked.output.split())
    assert "It would be fine from 1 April 2026." in asked.output
    fine = typed(
        "allowed", roll, "--at", "my-pages", "--from", "2026-04-01", "--zone", "Europe/Oslo"
    )
    assert (fine.exit_code, fine.stdout[:4]) == (0, "Yes:")
    refused = typed("record", "run", roll, "--at", "mill-shop", "--from", "2026-03-15")
    assert refused.exit_code == 4
    assert "rival 'hood'" in refused.output


def test_a_run_that_is_written_down_twice_is_kept_and_pointed_out(taken: Path) -> None:
    run = ("record", "run", taken / "hood_page-header.jpg", "--at", "my-pages", "--from")
    once, other_day, twice = (
        typed(*run, day) for day in ("2026-03-01", "2026-03-02", "2026-03-01")
    )
    assert "Note" not in once.output + other_day.output
    first = once.stdout.split()[1].rstrip(":")
    assert f"Note: run {first} says just that already." in twice.output
    later = twice.stdout.split()[1].rstrip(":")
    assert f"cropper record withdraw {later}" in twice.output


def test_a_refusal_says_each_reason_once(taken: Path) -> None:
    hood, roll = taken / "hood_page-header.jpg", taken / "roll_page-header.jpg"
    for _ in range(2):
        typed("record", "run", hood, "--at", "my-pages", "--from", "2026-03-01")
    refused = typed("record", "run", roll, "--at", "my-pages", "--from", "2026-03-02")
    assert refused.exit_code == 4
    assert refused.output.count("rival 'hood'") == 1


def test_a_name_that_no_finished_file_has_is_kept_and_pointed_out(taken: Path) -> None:
    del taken
    for words in (("bar", "hoood", "--why", "withdrawn"), ("release", "Ilse Marow", "none")):
        done = typed("record", *words)
        assert done.exit_code == 0
        assert f"'{words[1]}'" in done.stderr
        assert "If that is a slip" in done.stderr
    assert "Note" not in typed("record", "bar", "hood", "--why", "withdrawn").output


def test_outlets_that_are_not_there_yet_are_written_to_start_from(job: Path) -> None:
    new = job / "new.toml"
    first, second = (typed("record", "outlets", new) for _ in range(2))
    assert (first.exit_code, second.exit_code) == (0, 0)
    assert f"{new} is written" in first.output
    assert "2 of 2 outlets are new" in second.output
    assert typed("record", "outlets", job / "new.txt").exit_code == 2
    assert typed("record", "outlets", job / "nowhere" / "new.toml").exit_code == 1


def test_a_renamed_copy_is_the_same_file(taken: Path, tmp_path: Path) -> None:
    copy = tmp_path / "from-the-phone.jpg"
    copy.write_bytes((taken / "hood_page-header.jpg").read_bytes())
    done = typed("record", "run", copy, "--at", "my-pages", "--from", "2026-03-01")
    assert "'hood' at 'my-pages'" in done.output


def test_a_file_of_a_job_is_looked_up_in_the_record_beside_the_job(
    job: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("CROPPER_RECORD", raising=False)
    own = job.parent / "record.sqlite"
    open_record(str(own)).close()
    assert typed("record", "job", job).exit_code == 0
    file = next((job / "deliverables").glob("*.jpg"))
    told = typed("allowed", file, "--at", "mill-shop", "--from", "2026-03-01")
    assert told.exit_code == 0
    assert f"Record: {own}" in told.output


@pytest.mark.usefixtures("taken")
def test_a_history_of_something_unknown_says_so() -> None:
    assert "Nothing was ever recorded of the moon." in typed("record", "history", "the moon").output


def test_the_answer_for_scripts_is_json(taken: Path) -> None:
    hood = taken / "hood_page-header.jpg"
    typed("record", "licence", "embargo", "--set", "shawl", "--from", "2026-01-01",
          "--until", "2026-05-01T00:00+09:00")  # fmt: skip
    asked = typed("allowed", hood, "--at", "my-pages", "--from", "2026-04-01", "--json")
    (clash,) = json.loads(asked.stdout)["clashes"]
    assert clash["rule"] == "embargo"
    assert clash["earliest_ok"] == "2026-04-30T15:00:00Z"


def test_a_commercial_run_waits_for_the_release(taken: Path, job: Path) -> None:
    (job / "words.toml").write_text(
        '[[credit]]\nrole = "model"\nname = "Ilse Marrow"\n', encoding="utf-8"
    )
    typed("record", "job", job)
    hood = taken / "hood_page-header.jpg"
    asked = typed("allowed", hood, "--at", "mill-shop", "--from", "2026-04-01")
    assert asked.exit_code == 4
    assert "Ilse Marrow" in asked.output
    typed("record", "release", "Ilse Marrow", "limited", "--for", "mill-shop", "--scope", "2026")
    assert typed("allowed", hood, "--at", "mill-shop", "--from", "2026-04-01").exit_code == 0


def test_a_release_that_the_words_tell_is_taken_in_once(taken: Path, job: Path) -> None:
    (job / "words.toml").write_text(
        '[[credit]]\nrole = "model"\nname = "Ilse Marrow"\n'
        '[[release]]\nperson = "Ilse Marrow"\nstatus = "unlimited"\n',
        encoding="utf-8",
    )
    done = typed("record", "job", job)
    assert "Ilse Marrow: released without limits" in done.output
    hood = taken / "hood_page-header.jpg"
    assert typed("allowed", hood, "--at", "mill-shop", "--from", "2026-04-01").exit_code == 0
    typed("record", "release", "Ilse Marrow", "none", "--why", "taken back")
    typed("record", "job", job)
    assert typed("allowed", hood, "--at", "mill-shop", "--from", "2026-04-01").exit_code == 4


def test_corrections_ends_and_withdrawals_are_history(taken: Path) -> None:
    hood = taken / "hood_page-header.jpg"
    done = typed("record", "run", hood, "--at", "my-pages", "--from", "2026-03-01")
    run = done.stdout.split()[1].rstrip(":")
    assert typed("record", "correct", run, "--issue", "spring", "--why", "a slip").exit_code == 0
    assert "ended" in typed("record", "end", run, "--on", "2026-03-09").output
    assert "withdrawn" in typed("record", "withdraw", run).output
    told = typed("record", "history", run).output
    assert told.count("corrected") == 3
    assert "a slip" in told
    assert typed("record", "correct", run).exit_code == 2


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("--from", "2026-03-01T09:00"), 2, "has no zone"),
        (("--from", "2026-03-01", "--until", "2026-03-01"), 2, "no later than it starts"),
        (("--from", "tomorrow"), 2, "is no date"),
        (("--from", "2026-03-01", "--zone", "Nowhere"), 2, "not a time zone"),
    ],
)
def test_dates_that_are_none_are_told_with_the_way_out(
    taken: Path, words: tuple[str, ...], code: int, said: str
) -> None:
    done = typed("allowed", taken / "hood_page-header.jpg", "--at", "my-pages", *words)
    assert done.exit_code == code
    assert said in done.output
    assert "Traceback" not in done.output


def test_unknown_files_and_outlets_say_what_is_known(taken: Path, tmp_path: Path) -> None:
    stranger = tmp_path / "stranger.jpg"
    stranger.write_bytes(b"?")
    done = typed("allowed", stranger, "--at", "my-pages", "--from", "2026-03-01")
    assert (done.exit_code, "cropper record job DIR" in done.output) == (1, True)
    done = typed("allowed", taken / "hood_page-header.jpg", "--at", "pages", "--from", "2026-03-01")
    assert "Known: mill-shop, my-pages" in done.output


@pytest.mark.parametrize("ending", ["backup", "json", "csv", "jsonld"])
def test_what_was_saved_loads_into_another_record(taken: Path, tmp_path: Path, ending: str) -> None:
    hood = taken / "hood_page-header.jpg"
    typed("record", "run", hood, "--at", "my-pages", "--from", "2026-03-01")
    typed("record", "licence", "term", "--outlet", "my-pages", "--set", "shawl", "--from",
          "2026-01-01")  # fmt: skip
    file = tmp_path / f"kept.{ending}"
    assert typed("record", "save", file).exit_code == 0
    other = ("--record", tmp_path / "other.sqlite")
    if ending == "csv":
        typed("record", "outlets", taken.parent / "outlets.toml", *other)
    done = typed("record", "load", file, *other)
    assert done.exit_code == 0, done.output
    again = tmp_path / f"again.{ending}"
    typed("record", "save", again, *other)
    if ending in {"json", "csv"}:
        assert again.read_text() == file.read_text()


def test_a_table_with_bad_rows_keeps_the_others_and_says_so(taken: Path, tmp_path: Path) -> None:
    del taken
    file = tmp_path / "runs.csv"
    file.write_text("version,outlet,from\nhood,my-pages,2026-03-01\nhood,my-pages,soon\n")
    done = typed("record", "load", file)
    assert done.exit_code == 6
    assert "Row 3" in done.output
    assert "1 kept" in done.output
    file.write_text("what,ever\n1,2\n")
    assert "no column version, outlet, from" in typed("record", "load", file).output


def test_a_version_that_is_barred_runs_nowhere_until_it_is_allowed(taken: Path) -> None:
    hood = taken / "hood_page-header.jpg"
    typed("record", "bar", "hood", "--why", "refused by Fernhollow Mill")
    asked = typed("allowed", hood, "--at", "my-pages", "--from", "2026-03-01")
    assert "refused by Fernhollow Mill" in " ".join(asked.output.split())
    typed("record", "allow", "hood")
    assert typed("allowed", hood, "--at", "my-pages", "--from", "2026-03-01").exit_code == 0
