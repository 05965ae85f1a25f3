"""Job folders made to mislead: links, pipes, devices and names that lead elsewhere.

A job folder may come from anybody. Whatever stands in it, nothing outside is written, nothing
waits for ever, and what cannot be done is told.
"""

from __future__ import annotations

import ast
import json
import os
import signal
from collections.abc import Callable, Iterator
from pathlib import Path
from types import FrameType

import pytest

from cropper.job.store import JobFolder
from tests.integration.conftest import Draw, Run

pytestmark = pytest.mark.usefixtures("looker")
LONGEST_S = 20


@pytest.fixture(autouse=True)
def in_time() -> Iterator[None]:
    """Nothing may wait for a pipe that nobody writes to."""

    def late(_number: int, _frame: FrameType | None) -> None:
        raise AssertionError("it waited for ever")

    before = signal.signal(signal.SIGALRM, late)
    signal.alarm(LONGEST_S)
    yield
    signal.alarm(0)
    signal.signal(signal.SIGALRM, before)


@pytest.fixture
def job(run: Run, draw: Draw, tmp_path: Path) -> Path:
    """A job that was planned and exported: one master, one file."""
    job = tmp_path / "job"
    picture = draw("shoot/wool.jpg", size=(1300, 1600))
    assert run("plan", picture, "--for", "square-post", "--job", job).exit_code == 0
    assert run("export", "--job", job).exit_code == 0
    return job


def outside(job: Path) -> dict[str, bytes]:
    """Every file beside the job, and its bytes."""
    return {
        str(one): one.read_bytes()
        for one in sorted(job.parent.rglob("*"))
        if job not in one.parents and one.is_file() and not one.is_symlink()
    }


def planned_file(job: Path) -> Path:
    (one,) = (job / "planned").rglob("wool-*.json")
    return one


def to_plan_anew(job: Path) -> tuple[str, ...]:
    """Words that make the next plan and export write something everywhere."""
    for one in (job / "deliverables").glob("*.jpg"):
        if one.is_symlink() or one.is_file():
            one.unlink()
    return ("plan", "--job", str(job), "--for", "square-post,tall-post", str(shoot(job)))


def shoot(job: Path) -> Path:
    return job.parent / "shoot"


JOB_FILES: dict[str, Callable[[Path], Path]] = {
    "plan.json": lambda job: job / "plan.json",
    "the cards": lambda job: job / "planned" / "cards.jsonl",
    "a master's file": planned_file,
    "the sets": lambda job: job / "planned" / "sets.jsonl",
    "the ledger": lambda job: job / "exported.json",
    "its journal": lambda job: job / "exported.journal",
    "words.toml": lambda job: job / "words.toml",
    "outlets.toml": lambda job: job / "outlets.toml",
    "the manifest": lambda job: job / "deliverables" / "manifest.json",
    "the manifest as CSV": lambda job: job / "deliverables" / "manifest.csv",
    "a deliverable": lambda job: job / "deliverables" / "wool_square-post_1080x1080.jpg",
    "a sidecar": lambda job: job / "sidecars" / "wool.xmp",
    "the lock": lambda job: job / "job.lock",
}
EVERY_VERB = ("export", "verify", "words", "plan")
ODD: dict[str, Callable[[Path], None]] = {
    "a pipe": os.mkfifo,
    "a device": lambda at: at.symlink_to("/dev/zero"),
    "a folder": lambda at: at.mkdir(),
    "a link to nowhere": lambda at: at.symlink_to(at.parent / "nowhere" / "at all"),
    "a link to itself": lambda at: at.symlink_to(at),
}


@pytest.mark.parametrize("number", range(len(JOB_FILES)))
def test_what_is_no_file_where_a_file_should_be_is_told(run: Run, job: Path, number: int) -> None:
    which = list(JOB_FILES)[number]
    others = list(ODD)[1 + number % (len(ODD) - 1) :][: number % 2]
    for odd in ("a pipe", *others):
        told_and_harmless(run, job, which, odd)


def told_and_harmless(run: Run, job: Path, which: str, odd: str) -> None:
    at, before = JOB_FILES[which](job), outside(job)
    if at.exists() or at.is_symlink():
        at.unlink()
    at.parent.mkdir(exist_ok=True)
    ODD[odd](at)
    for verb in EVERY_VERB:
        told = run(verb, "--job", job)
        assert told.exit_code in {0, 1, 2, 3, 5, 6}, told.output
        assert told.exit_code == 0 or told.output.strip()
    run(*to_plan_anew(job))
    assert outside(job) == before
    if at.is_dir():
        at.rmdir()


GROWING = ("the cards", "the sets", "its journal", "a deliverable")
"""Of files that are only ever replaced, a second name says nothing."""


@pytest.mark.parametrize(
    ("which", "hard"), [*((one, False) for one in JOB_FILES), *((one, True) for one in GROWING)]
)
def test_a_link_in_the_place_of_a_file_changes_nothing_where_it_leads(
    run: Run, job: Path, which: str, *, hard: bool
) -> None:
    at = JOB_FILES[which](job)
    mine = job.parent / "mine"
    mine.write_bytes(at.read_bytes() if at.exists() else b"")
    at.unlink(missing_ok=True)
    if hard:
        at.hardlink_to(mine)
    else:
        at.symlink_to(mine)
    before = outside(job)

    run(*to_plan_anew(job))
    run("export", "--job", job)
    run("verify", "--job", job, "--repair")

    assert outside(job) == before


FOLDERS = ("planned", "deliverables", "sidecars", "fingerprints", "set_aside", "deliverables/texts")


@pytest.mark.parametrize("which", FOLDERS)
def test_a_link_in_the_place_of_a_folder_gets_nothing_written_through_it(
    run: Run, job: Path, which: str
) -> None:
    (job / "words.toml").write_text('caption = "A shawl."\n')
    assert run("export", "--job", job).exit_code == 0
    at, elsewhere = job / which, job.parent / "elsewhere"
    if at.exists():
        at.rename(elsewhere)
    else:
        elsewhere.mkdir()
    (elsewhere / ".part-mine").write_text("mine")
    at.symlink_to(elsewhere)
    before = outside(job)

    run(*to_plan_anew(job)) if which != "deliverables" else run("plan", "--job", job)
    (job / "words.toml").write_text('caption = "Another."\n')
    told = [
        run("export", "--job", job),
        run("verify", "--job", job, "--repair"),
        run("identify", shoot(job) / "wool.jpg", "--job", job),
    ]

    assert outside(job) == before
    assert which not in {"planned", "deliverables"} or "link" in told[0].output


def test_a_job_reached_through_a_link_is_a_job_like_any_other(run: Run, job: Path) -> None:
    (job.parent / "desk").symlink_to(job)
    by_link = job.parent / "desk"
    assert run("plan", "--for", "tall-post", shoot(job), "--job", by_link).exit_code == 0
    assert run("export", "--job", by_link).exit_code == 0
    assert run("verify", "--job", by_link).exit_code == 0
    assert len(list((job / "deliverables").glob("*.jpg"))) == 2


ODD_NAMES = (
    "../../evil",
    "/evil",
    "~/evil",
    "CON",
    "aux.txt",
    "n" * 300,
    "a\\..\\..\\evil",
    "trailing. ",
    "new\nline",
    "..",
    ".part-x",
)


@pytest.mark.parametrize("name", ODD_NAMES)
def test_a_version_of_whatever_name_stays_in_the_job(run: Run, job: Path, name: str) -> None:
    file = planned_file(job)
    told = json.loads(file.read_text("utf-8"))
    told["master"]["version"] = name
    file.write_text(json.dumps(told), "utf-8")
    folder = JobFolder(job).shelf.file_of(name)
    folder.parent.mkdir(exist_ok=True)
    file.rename(folder)
    (job / "planned" / "cards.jsonl").unlink()
    before = outside(job)

    for words in (("export",), ("plan",), ("verify", "--repair"), ("status",), ("words",)):
        assert run(*words, "--job", job).exit_code in {0, 1, 5, 6}

    assert outside(job) == before
    assert {one.name for one in (job / "deliverables").iterdir()}.isdisjoint({"..", "CON", "evil"})


@pytest.mark.parametrize("odd", ["a pipe", "a device", "a folder"])
def test_an_odd_master_or_preset_is_told_at_once(
    run: Run, draw: Draw, tmp_path: Path, odd: str
) -> None:
    at, job = tmp_path / "odd.jpg", tmp_path / "job"
    ODD[odd](at)
    told = run("plan", at, draw("good.jpg"), "--for", "square-post", "--job", job)
    assert told.exit_code == 6
    assert "odd.jpg" in told.stderr
    own = tmp_path / "own"
    own.mkdir()
    ODD[odd](own / "mine.toml")
    told = run("destinations", "--presets", own)
    assert told.exit_code in {0, 3}
    assert odd == "a folder" or "mine.toml" in told.stderr


def test_a_master_that_becomes_a_pipe_is_told_when_exported(run: Run, job: Path) -> None:
    picture = shoot(job) / "wool.jpg"
    picture.unlink()
    os.mkfifo(picture)
    next((job / "deliverables").glob("*.jpg")).unlink()
    told = run("export", "--job", job)
    assert told.exit_code in {1, 6}
    assert "pipe" in told.stderr


def test_a_report_shows_no_picture_that_a_manifest_places_outside(
    run: Run, job: Path, draw: Draw
) -> None:
    from cropper.account.report_pictures import _files  # noqa: PLC0415

    secret = draw("secret.jpg", 4, (90, 90))
    manifest = job / "deliverables" / "manifest.json"
    told = json.loads(manifest.read_text())
    (row,) = told["delivered"]
    told["delivered"] = [row | {"file": one} for one in ("../../secret.jpg", str(secret), "x\0y")]
    manifest.write_text(json.dumps(told))
    assert run("verify", "--job", job).exit_code == 6
    assert secret.resolve() not in {one.resolve() for one in _files("wool", job)}


PLANTED = (
    ("conftest.py", "raise SystemExit('ran')"),
    ("sitecustomize.py", "raise SystemExit('ran')"),
    ("cropper/__init__.py", "raise SystemExit('ran')"),
    ("plan.pickle", "cos\nsystem\n(S'touch ran'\ntR."),
    ("presets/evil.py", "raise SystemExit('ran')"),
)


def test_code_that_lies_in_a_job_is_never_run(
    run: Run, job: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, code in PLANTED:
        (job / name).parent.mkdir(exist_ok=True)
        (job / name).write_text(code)
    (job / "fingerprints").mkdir(exist_ok=True)
    for shelf in (*job.glob("fingerprints/*.npz"), job / "fingerprints" / "shelf.npz"):
        shelf.write_bytes(b"cos\nsystem\n(S'touch ran'\ntR.")
    monkeypatch.chdir(job)
    for verb in EVERY_VERB:
        assert run(verb, "--job", job).exit_code in {0, 5}
    assert run("identify", shoot(job) / "wool.jpg", "--job", job).exit_code in {0, 5}
    assert not (job / "ran").exists()


RUNS_CODE = {"eval", "exec", "compile", "__import__"}
LOADS_CODE = {"pickle", "marshal", "shelve", "dill", "cloudpickle", "yaml", "runpy"}


def test_the_program_has_no_word_that_runs_what_it_reads() -> None:
    for file in Path("cropper").resolve().rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text("utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                assert node.func.id not in RUNS_CODE, f"{file}:{node.lineno}"
            if isinstance(node, ast.Import):
                assert not LOADS_CODE & {one.name for one in node.names}, file
            if isinstance(node, ast.ImportFrom):
                assert node.module not in LOADS_CODE, file
            if isinstance(node, ast.keyword) and node.arg == "allow_pickle":
                assert isinstance(node.value, ast.Constant), file
                assert node.value.value is False, file
