"""Ordinary turns of an ordinary evening: nothing surprises, nothing is lost."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tests.integration.conftest import Draw, DrawnLooker, Run

WORDS = (sys.executable, "-c", "from cropper.cli.main import main; main()")


@pytest.fixture
def job(run: Run, draw: Draw, tmp_path: Path, looker: DrawnLooker) -> Path:
    del looker
    job = tmp_path / "job"
    run("plan", draw("ilse.jpg"), "--for", "square-post,tall-post", "--job", job)
    return job


def test_a_hand_crop_that_cannot_be_delivered_is_refused_when_it_is_named(
    run: Run, job: Path
) -> None:
    run("export", "--job", job, "--with-problems")
    before = (job / "deliverables/manifest.json").read_text()
    said = run("plan", "--job", job, "--crop", "square-post=700,700,900,900")
    assert said.exit_code == 2
    assert "far too few pixels for 'square-post'" in said.stderr
    assert "has 200" in said.stderr
    run("export", "--job", job, "--with-problems")
    assert (job / "deliverables/manifest.json").read_text() == before


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_ending_the_page_is_no_fault(job: Path, number: signal.Signals) -> None:
    with subprocess.Popen(
        [*WORDS, "review", "--job", job, "--no-browser"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    ) as page:
        assert page.stdout is not None
        assert page.stdout.readline().startswith("http://")
        page.send_signal(number)
        _, talk = page.communicate(timeout=60)
    assert page.returncode == 0
    assert "Stopped at once" not in talk
    assert "Traceback" not in talk


def test_a_group_or_a_recipient_may_be_named_wherever_a_destination_may(
    run: Run, draw: Draw, job: Path
) -> None:
    run("plan", draw("wool.jpg"), "--for", "client", "--job", job)
    run("export", "--job", job, "--only", "client", "--with-problems")
    rows = json.loads((job / "deliverables/manifest.json").read_text())["delivered"]
    assert rows
    assert {one["version"] for one in rows} == {"wool"}
    recipient = next(one["recipient"] for one in rows if one["recipient"] != "client")
    run("export", "--job", job, "--to", job / "one", "--only", recipient, "--with-problems")
    rows = json.loads((job / "one/manifest.json").read_text())["delivered"]
    assert {one["recipient"] for one in rows} == {recipient}
    said = run("export", "--job", job, "--only", "nobody")
    assert said.exit_code == 2
    assert "square-post" in said.stderr
