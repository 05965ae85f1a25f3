"""From an export to the record without typing: all files of a job, and a post a day."""

from __future__ import annotations

import os
from pathlib import Path

from cropper.publication.facts import Asked
from cropper.record import open_record
from tests.integration.record.test_record_verbs import job, typed  # noqa: F401 - a fixture


def test_a_job_goes_where_its_outlets_send_it_and_what_clashes_is_told(job: Path) -> None:  # noqa: F811
    done = typed("record", "run", "--job", job, "--from", "2026-03-01")
    assert done.exit_code == 4
    assert "'hood' at 'mill-shop' from 1 March 2026 on (Europe/Oslo)." in done.output
    assert "roll_page-header.jpg at 'mill-shop' was not recorded: Its rival 'hood'" in done.output
    again = typed("record", "run", "--job", job, "--from", "2026-03-01")
    assert "hood_page-header.jpg has a run at 'mill-shop' already." in again.output


def test_a_post_a_day_is_one_line_and_keeps_rivals_apart(job: Path) -> None:  # noqa: F811
    (job / "outlets.toml").write_text(
        '[outlets.my-pages]\nkind = "stream"\naudience = "followers"\nwindow_days = 3\n'
        'zone = "Europe/Oslo"\n[destinations]\npage-header = "my-pages"\n'
    )
    done = typed("record", "run", "--job", job, "--at", "my-pages", "--from", "2199-03-29",
                 "--every", "1")  # fmt: skip
    assert done.exit_code == 0, done.output
    with open_record(os.environ["CROPPER_RECORD"]) as record:
        runs = record.facts(Asked()).runs
    local = [f"{one.span.start:%m-%d %H}" for one in runs]
    # Clocks change on the 31st: three days after midnight it is one o'clock, so the next midnight.
    assert local == ["03-28 23", "04-01 22"]
    assert {one.state.value for one in runs} == {"planned"}


def test_words_that_do_not_go_together_are_told(job: Path) -> None:  # noqa: F811
    assert typed("record", "run", "--from", "2026-03-01").exit_code == 2
    assert typed("record", "run", "x.jpg", "--from", "2026-03-01").exit_code == 2
    both = typed("record", "run", "x.jpg", "--job", job, "--from", "2026-03-01")
    assert both.exit_code == 2
    nowhere = typed("record", "run", "--job", job, "--at", "my-pages", "--from", "2026-03-01")
    assert (nowhere.exit_code, "[destinations]" in nowhere.output) == (2, True)
