"""Results that nobody can read: the work goes on, and one exit code says that telling failed."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from cropper.errors import EXIT_NOT_TOLD
from tests.integration.conftest import Draw

WORDS = (sys.executable, "-c", "from cropper.cli.main import main; main()")
EYES = ("--eyes", "744,720", "856,720")
FULL = Path("/dev/full")


def shell(command: str, *words: object) -> subprocess.CompletedProcess[bytes]:
    """A verb with its streams led elsewhere: ``command`` ends in redirections."""
    line = ["sh", "-c", f'"$@" {command}', "sh", *WORDS, *map(str, words)]
    return subprocess.run(line, capture_output=True, check=False)


@pytest.mark.skipif(not FULL.exists(), reason="needs a device that is always full")
@pytest.mark.parametrize("where", [">&-", "2>&-", ">&- 2>&-", ">/dev/full", "2>/dev/full"])
def test_a_stream_that_is_closed_or_full_costs_no_work(
    draw: Draw, tmp_path: Path, where: str
) -> None:
    job = tmp_path / "job"
    missing = tmp_path / "missing.jpg"  # something to say on stderr
    words = ("--for", "square-post", "--job", job, *EYES)
    assert shell("", "plan", draw("ilse.jpg"), *words).returncode in {0, 5}
    done = shell(where, "plan", missing, "--for", "tall-post", "--job", job, "--export")
    assert done.returncode == EXIT_NOT_TOLD, done.stderr
    assert b"Traceback" not in done.stderr
    assert (job / "deliverables/ilse_square-post_1080x1080.jpg").exists()


def test_a_reader_that_has_enough_is_no_fault_of_ours() -> None:
    read, write = os.pipe()
    os.close(read)
    done = subprocess.run(
        [*WORDS, "destinations"], stdout=write, stderr=subprocess.PIPE, check=False
    )
    os.close(write)
    assert done.returncode == EXIT_NOT_TOLD
    assert done.stderr == b""


def test_what_can_be_told_is_told_as_ever() -> None:
    done = shell("", "destinations", "story")
    assert done.returncode == 0
    assert b"story" in done.stdout
    assert done.stderr == b""
