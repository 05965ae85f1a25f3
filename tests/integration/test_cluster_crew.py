"""A crew behind a scheduler, with real processes: deaths are told, not waited out."""

from __future__ import annotations

import gc
import threading
import warnings
from collections.abc import Iterator
from pathlib import Path

import pytest

from cropper.batch import cluster
from cropper.batch.cluster import Cluster, ClusterError
from tests.cluster import Machines, machines
from tests.unit.batch.deeds import mistaken, slowly, squared, stuck, unless_deadly

pytest.importorskip("distributed")


@pytest.fixture(autouse=True)
def _swept() -> Iterator[None]:
    """The engine leaves connections to a dead scheduler to the garbage collector."""
    yield
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ResourceWarning)
        gc.collect()


@pytest.fixture
def two(tmp_path: Path) -> Iterator[Machines]:
    with machines(tmp_path) as them:
        yield them


def killed_after(seconds: float, kill: object) -> None:
    timer = threading.Timer(seconds, kill)  # type: ignore[arg-type]
    timer.daemon = True
    timer.start()


def test_tasks_of_a_worker_that_is_killed_go_to_the_other_and_faults_are_raised(
    two: Machines,
) -> None:
    with pytest.raises(ValueError, match="our own fault"):
        list(Cluster(two.address).do(mistaken, [1]))
    work = Cluster(two.address).do(slowly, range(10))
    came = [next(work)]
    two.workers[0].kill()
    came.extend(work)
    assert sorted(one.task for one in came) == list(range(10))
    assert all(one.result == one.task for one in came)


def test_a_task_that_kills_every_worker_costs_itself_and_no_other(tmp_path: Path) -> None:
    with machines(tmp_path, number=0) as them:
        them.hire(2, nanny=True)
        words = ["a", "b", "deadly", "c", "d", "e", "f"]
        came = {one.task: one for one in Cluster(them.address).do(unless_deadly, words)}
    assert set(came) == set(words)
    assert came.pop("deadly").lost == "every worker that read it died"
    assert all(one.result == word for word, one in came.items())


def test_a_scheduler_that_is_started_anew_in_the_middle_is_told_and_serves_the_next_run(
    two: Machines,
) -> None:
    work = Cluster(two.address).do(slowly, range(40))
    came = [next(work).task, next(work).task]
    assert two.scheduler is not None
    two.scheduler.kill()
    two.scheduler.wait(timeout=20)
    two.start(int(two.address.rpartition(":")[2]))
    with pytest.raises(ClusterError, match="went away"):
        came.extend(one.task for one in work)
    assert 2 <= len(came) < 40
    two.hire(1)
    rest = [number for number in range(4) if number not in came]
    assert sorted(one.task for one in Cluster(two.address).do(squared, rest)) == rest


def test_a_scheduler_whose_workers_are_all_gone_or_never_came_is_not_waited_for_for_ever(
    two: Machines, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cluster, "DESERTED_S", 1.0)
    monkeypatch.setattr(cluster, "ANSWER_WITHIN_S", 1.0)

    def all_gone() -> None:
        for one in two.workers:
            one.kill()

    killed_after(1.0, all_gone)
    with pytest.raises(ClusterError, match=r"are gone|no workers") as told:
        list(Cluster(two.address).do(slowly, range(100)))
    assert "Start some" in str(told.value)
    with pytest.raises(ClusterError, match="has no workers"):
        list(Cluster(two.address).do(squared, [1]))


def test_workers_that_finish_nothing_are_given_up_in_the_end(
    two: Machines, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cluster, "LONGEST_S", 0.5)
    with pytest.raises(ClusterError, match="finished nothing for"):
        list(Cluster(two.address).do(stuck, range(3)))


def test_a_configuration_that_asks_for_tls_is_not_gone_against(two: Machines) -> None:
    import dask  # noqa: PLC0415 - comes with the optional engine

    asked = {"distributed.comm.require-encryption": True}
    with dask.config.set(asked), pytest.raises(ClusterError, match="encryption required"):
        list(Cluster(two.address).do(squared, [1]))


def test_workers_of_another_version_are_refused_before_any_work_is_sent(
    tmp_path: Path, two: Machines
) -> None:
    told = tmp_path / "older" / "cropper-0.0.1.dist-info"
    told.mkdir(parents=True)
    (told / "METADATA").write_text("Metadata-Version: 2.1\nName: cropper\nVersion: 0.0.1\n")
    two.hire(1, environment={"PYTHONPATH": str(told.parent)})
    two.wait_for(3)
    sent = []

    def tasks() -> Iterator[int]:
        sent.append(1)
        yield 1

    with pytest.raises(ClusterError, match=r"1 of 3 workers .* has 0\.0\.1") as refused:
        list(Cluster(two.address).do(squared, tasks()))
    assert "Install the same version on every machine" in str(refused.value)
    assert not sent


def test_a_worker_of_another_version_that_comes_late_does_no_task(
    tmp_path: Path, two: Machines, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cluster._Hands, "refuse_unlike", lambda _: None)  # it came after that
    told = tmp_path / "older" / "cropper-0.0.1.dist-info"
    told.mkdir(parents=True)
    (told / "METADATA").write_text("Metadata-Version: 2.1\nName: cropper\nVersion: 0.0.1\n")
    two.hire(1, environment={"PYTHONPATH": str(told.parent)})
    two.wait_for(3)
    with pytest.raises(ClusterError, match=r"cropper is 0\.0\.1 there"):
        list(Cluster(two.address).do(slowly, range(20)))


def test_workers_without_the_program_are_refused_before_any_work_is_sent(tmp_path: Path) -> None:
    packages = tmp_path / "packages"
    packages.mkdir()
    for one in Path(pytest.__file__).parents[1].iterdir():
        if "cropper" not in one.name:
            (packages / one.name).symlink_to(one)
    with machines(tmp_path, number=0) as them:
        them.hire(1, bare=True, environment={"PYTHONPATH": str(packages)})
        them.wait_for(1)
        with pytest.raises(ClusterError, match=r"1 of 1 workers .* has none"):
            list(Cluster(them.address).do(squared, [1]))
