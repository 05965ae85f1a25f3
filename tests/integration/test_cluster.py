"""Whole commands through a real scheduler and two workers, behind TLS with real certificates."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest

from cropper.batch.cluster import Cluster
from cropper.errors import MisuseError
from cropper.job.store import JobFolder
from tests.cluster import Machines, machines
from tests.integration.conftest import small_shoot

pytest.importorskip("distributed")
pytestmark = pytest.mark.models

CROPPER = str(Path(sys.executable).with_name("cropper"))
FOR = ("--for", "avatar,profile-square")
MASTERS = 7
KEY = ("-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes", "-days", "2")


def certify(folder: Path, name: str) -> dict[str, str]:
    """A certificate of its own house in ``folder``, and how Dask is told of it as a client."""
    folder.mkdir(exist_ok=True)

    def openssl(*words: str) -> None:
        subprocess.run(["openssl", *words], cwd=folder, check=True, capture_output=True)

    openssl("req", "-x509", *KEY, "-keyout", "ca.key", "-out", "ca.pem", "-subj", f"/CN={name}")
    openssl("req", *KEY[:-2], "-keyout", "one.key", "-out", "one.csr", "-subj", f"/CN={name}-one")
    openssl(
        *("x509", "-req", "-in", "one.csr", "-CA", "ca.pem", "-CAkey", "ca.key"),
        *("-CAcreateserial", "-out", "one.pem", "-days", "2"),
    )
    return {
        "DASK_DISTRIBUTED__COMM__TLS__CA_FILE": str(folder / "ca.pem"),
        "DASK_DISTRIBUTED__COMM__TLS__CLIENT__CERT": str(folder / "one.pem"),
        "DASK_DISTRIBUTED__COMM__TLS__CLIENT__KEY": str(folder / "one.key"),
    }


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("studio")


@pytest.fixture(scope="module")
def certificates(folder: Path) -> dict[str, str]:
    if shutil.which("openssl") is None:
        pytest.skip("openssl makes the certificates, and is not installed")
    return certify(folder / "house", "house")


@pytest.fixture(scope="module")
def studio(folder: Path, certificates: dict[str, str]) -> Iterator[Machines]:
    """A scheduler and two workers that speak TLS only."""
    words = []
    for option, value in zip(("ca-file", "cert", "key"), certificates.values(), strict=True):
        words += [f"--tls-{option}", value]
    place = folder / "machines"
    place.mkdir()
    with machines(place, words=words, scheme="tls") as them:
        yield them


@pytest.fixture(scope="module")
def shoot(folder: Path) -> Path:
    """A day's small pictures: one face, large enough for the finder, under several names."""
    place = folder / "shoot"
    place.mkdir()
    return small_shoot(place, MASTERS)


def run(
    *words: object, environment: Mapping[str, str] | None = None, cwd: Path | None = None
) -> list[str]:
    """What a command says on stdout and stderr, and its exit code."""
    done = subprocess.run(
        [CROPPER, *map(str, words)],
        capture_output=True, text=True, check=False, timeout=300, cwd=cwd,
        env={**os.environ, **(environment or {})},
    )  # fmt: skip
    return [done.stdout, done.stderr, str(done.returncode)]


def answer(done: list[str]) -> tuple[str, str]:
    """What it says on stdout, and its exit code; on stderr it tells how quick it is."""
    return done[0], done[2]


def told(job: Path) -> dict[str, str]:
    """Every master's file but for the times in it."""
    read = JobFolder(job)
    cards = read.shelf.cards()
    lines = {name: read.shelf.text(card).splitlines() for name, card in cards.items()}
    return {name: "\n".join(x for x in text if '"at":' not in x) for name, text in lines.items()}


def files(job: Path) -> dict[str, bytes]:
    return {one.name: one.read_bytes() for one in (job / "deliverables").glob("*.jpg")}


@pytest.fixture(scope="module")
def alone(folder: Path, shoot: Path) -> Path:
    """The job as this process alone plans it."""
    job = folder / "alone"
    assert run("plan", shoot, *FOR, "--job", job)[2] == "0"
    assert len(told(job)) == MASTERS
    return job


def test_a_cluster_plans_exports_and_checks_the_same_to_the_byte(
    folder: Path, shoot: Path, alone: Path, studio: Machines, certificates: dict[str, str]
) -> None:
    job, there = folder / "cluster", ("--scheduler", studio.address)
    assert run("plan", shoot, *FOR, "--job", job, *there, environment=certificates)[2] == "0"
    assert told(job) == told(alone)

    assert run("export", "--job", alone)[2] == "0"
    done = run("export", "--job", job, *there, environment=certificates)
    assert done[2] == "0", done
    assert len(files(job)) == 2 * MASTERS
    assert files(job) == files(alone)

    some = sorted(shoot.iterdir())[:2]
    words: tuple[object, ...] = ("plan", *some, *FOR, "--export", "--job", folder / "at once")
    assert run(*words, *there, environment=certificates)[2] == "0"
    at_once = files(folder / "at once")
    assert len(at_once) == 4
    assert at_once.items() <= files(alone).items()

    relative = [one.name for one in some]  # workers stand in another folder
    for verb in (("check", *relative, "lost.jpg", *FOR), ("find", *relative, "lost.jpg")):
        here = answer(run(*verb, "--json", cwd=shoot))
        assert here[0].count('"problem": "lost.jpg: there is no such file') == 1
        there_too = run(*verb, "--json", *there, environment=certificates, cwd=shoot)
        assert answer(there_too) == here

    found = sorted((alone / "deliverables").glob("*.jpg"))[:3]
    words = ("identify", *found, "--job", alone, "--json")
    here = answer(run(*words))
    assert answer(run(*words, *there, environment=certificates)) == here
    assert all(one["state"] == "exact" for one in json.loads(here[0])["files"])


@pytest.mark.parametrize("lacking", ["none", "of another house", "without its key"])
def test_a_client_without_the_studio_s_certificate_is_refused_in_a_sentence(
    folder: Path, shoot: Path, studio: Machines, certificates: dict[str, str], lacking: str
) -> None:
    environment = {
        "none": {},
        "of another house": certify(folder / "other", "other"),
        "without its key": {**certificates, "DASK_DISTRIBUTED__COMM__TLS__CLIENT__KEY": "gone"},
    }[lacking]
    job = folder / "refused"
    words = ("plan", shoot, *FOR, "--job", job, "--scheduler", studio.address)
    _, said, code = run(*words, environment=environment)
    assert code == "1"
    assert "certificates" in said
    assert "Traceback" not in said
    assert told(job) == {}


def test_a_plain_address_of_a_secured_scheduler_is_refused_too(
    folder: Path, shoot: Path, studio: Machines
) -> None:
    plain = studio.address.replace("tls://", "tcp://")
    _, said, code = run("plan", shoot, *FOR, "--job", folder / "plain", "--scheduler", plain)
    assert code == "1"
    assert "refuses this machine" in said
    assert "Traceback" not in said


listening: list[str] = []


def _hear(event: str, _: object) -> None:
    if event.startswith("socket.") and listening:
        listening.append(event)


sys.addaudithook(_hear)


def test_an_address_elsewhere_without_tls_is_refused_before_a_name_is_even_looked_up() -> None:
    listening[:] = ["begin"]
    with pytest.raises(MisuseError, match="in the clear"):
        Cluster("tcp://studio.example:8786")
    heard, listening[:] = listening[1:], []
    assert heard == []


def begun(*words: object, lines: int, environment: Mapping[str, str]) -> subprocess.Popen[str]:
    """A command that has told of so many masters."""
    running = subprocess.Popen(
        [CROPPER, *map(str, words), "--json-lines"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        env={**os.environ, **environment},
    )  # fmt: skip
    assert running.stdout is not None
    for _ in range(1 + lines):
        running.stdout.readline()
    return running


@pytest.mark.long  # A signal that lands while the engine clears away prints what Python ignored.
def test_ctrl_c_with_a_cluster_finishes_what_is_in_hand_and_twice_ends_at_once(
    folder: Path, shoot: Path, alone: Path, studio: Machines, certificates: dict[str, str]
) -> None:
    job, there = folder / "stopped", ("--scheduler", studio.address)
    words = ("plan", shoot, *FOR, "--job", job, *there)
    running = begun(*words, lines=1, environment=certificates)
    running.send_signal(signal.SIGINT)
    _, said = running.communicate(timeout=200)
    assert running.returncode == 130, said
    assert "what is in hand is finished first" in said
    some = told(job)
    assert 1 <= len(some) < MASTERS

    running = begun("plan", "--job", job, *there, lines=1, environment=certificates)
    running.send_signal(signal.SIGINT)
    assert running.stderr is not None
    assert "Press Ctrl-C again" in running.stderr.readline()
    running.send_signal(signal.SIGINT)
    began = time.monotonic()
    _, said = running.communicate(timeout=200)
    assert time.monotonic() - began < 10
    assert running.returncode == 130, said
    assert "Stopped at once" in said
    assert "Traceback" not in said

    assert run("plan", "--job", job, *there, environment=certificates)[2] == "0"
    assert told(job) == told(alone)


def test_a_scheduler_that_goes_away_is_told_and_the_next_run_does_only_the_rest(
    tmp_path: Path, folder: Path, shoot: Path, alone: Path
) -> None:
    job = folder / "left alone"
    with machines(tmp_path) as them:
        there = ("--scheduler", them.address)
        running = begun("plan", shoot, *FOR, "--job", job, *there, lines=2, environment={})
        assert them.scheduler is not None
        them.scheduler.kill()
        _, said = running.communicate(timeout=200)
        assert running.returncode == 1
        assert "went away" in said
        assert "Traceback" not in said
        done = set(told(job))
        assert 2 <= len(done) < MASTERS

        them.scheduler.wait(timeout=20)
        them.start()
        them.hire(1)
        again = run("plan", "--job", job, "--scheduler", them.address, "--json-lines")
    assert again[2] == "0", again[1]
    events = [json.loads(line) for line in again[0].splitlines()]
    assert {one["what"] for one in events if one.get("state") == "done"} == set(told(alone)) - done
    assert told(job) == told(alone)
