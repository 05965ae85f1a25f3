"""Whatever a verb writes appears whole or not at all, and lasts once the verb has said it is done.

Every step of the verb is overheard; what a kill or a power cut would leave there is compared with
what was there before and what is there in the end: nothing between may ever bear a final name.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.harness.disk import Disk, Tree
from tests.integration.conftest import Draw, Run

pytestmark = pytest.mark.usefixtures("looker")
GROWING = ("planned/cards.jsonl", "planned/sets.jsonl", "exported.journal", "job.lock")
"""Files that grow line by line; that a torn last line is mended is shown by every step ended."""

VERBS = {
    "proof": ("proof", "--job", "JOB"),
    "words": ("words", "--job", "JOB"),
    "a starter of outlets": ("record", "outlets", "JOB/outlets.toml"),
    "export": ("export", "--job", "JOB"),
    "proofs for a client": ("export", "--proofs-for", "all", "--job", "JOB"),
    "plan": ("plan", "--for", "tall-post", "HOME/shoot", "--job", "JOB"),
    "repair": ("verify", "--repair", "--job", "JOB"),
    "fingerprints": ("identify", "HOME/shoot/wool.jpg", "--job", "JOB"),
    "a backup": ("record", "save", "HOME/all.backup"),
    "a record as JSON": ("record", "save", "HOME/all.json"),
    "runs as a table": ("record", "save", "HOME/runs.csv"),
    "deals": ("record", "save", "HOME/deals.jsonld"),
    "a timeline": ("timeline", "--to", "HOME/new/folder/spring"),
    "a calendar": ("running", "--calendar", "HOME/runs.ics"),
}


@pytest.fixture
def home(run: Run, draw: Draw, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A job planned for one destination, and a record of its own."""
    home = tmp_path / "home"
    monkeypatch.setenv("CROPPER_RECORD", str(tmp_path / "record.sqlite"))
    picture = draw("home/shoot/wool.jpg", size=(960, 1200))
    assert run("plan", picture, "--for", "square-post", "--job", home / "job").exit_code == 0
    outlets = tmp_path / "outlets.toml"
    assert run("record", "outlets", outlets).exit_code == 0
    assert run("record", "outlets", outlets).exit_code == 0
    return home


@pytest.mark.parametrize("verb", VERBS)
def test_is_whole_at_every_instant_and_lasts(run: Run, home: Path, verb: str) -> None:
    if verb == "repair":
        assert run("export", "--job", home / "job").exit_code == 0
        next((home / "job" / "deliverables").glob("*.jpg")).unlink()
    words = [
        one.replace("JOB", str(home / "job")).replace("HOME", str(home)) for one in VERBS[verb]
    ]
    disk = Disk(home)
    before = disk.now()
    with disk.watched():
        told = run(*words)
    assert told.exit_code in {0, 5}, told.output

    assert disk.left, "nothing was written"
    for left in disk.left:
        for name, content in left.tree.items():
            if ".part" not in name and not name.endswith(GROWING):
                assert content in ways(name, before, disk), f"{name}, {left.how}: {left.step}"
    assert disk.lasting() == disk.now()


def ways(name: str, before: Tree, disk: Disk) -> set[bytes | None]:
    """What a file may hold: what it held, what it holds, and a head each of its states in turn."""
    held = {before.get(name), disk.now().get(name)}
    if name.endswith("plan.json"):
        held |= {left.tree.get(name) for left in disk.left if left.how == "killed"}
    return held
