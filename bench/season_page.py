"""A season on the review page, its masters in sets of two: ``python -m bench.season_page``.

Simulated as in ``bench.season``: one real master under many names, one real set's assignment under
many. CPU seconds of this process, through the real application; no preview is made.
"""

from __future__ import annotations

import argparse
import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

from bench.review import Talk
from bench.season import one_planned
from cropper.job import codec, summary
from cropper.job.cards import card_of
from cropper.job.plan import Plan, PlannedMaster, PlannedSet
from cropper.job.sets import assigned
from cropper.job.shelf import file_digest
from cropper.job.store import JobFolder
from cropper.publication.outlets import Outlets


@contextmanager
def cpu(what: str) -> Iterator[None]:
    began = time.process_time()
    yield
    print(f"{what:58} {time.process_time() - began:8.3f} CPU s")


def on_disk(job: Path, head: Plan, master: PlannedMaster, count: int) -> JobFolder:
    """A job of ``count`` masters alike."""
    job.mkdir()
    folder = JobFolder(job)
    folder.write(replace(head, masters=(), sets=()))
    text, cards = codec.master_text(master, 0), []
    for number in range(count):
        version = f"wool-{number:06d}"
        mine = text.replace(f'"version": "{master.version}"', f'"version": "{version}"', 1)
        mine = mine.replace('"place": 0', f'"place": {number}', 1)
        path = folder.shelf.file_of(version)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(mine, "utf-8")
        named = replace(master, version=version)
        cards.append(card_of(named, place=number, text=file_digest(mine)))
    folder.shelf.write_anew(cards)
    return folder


def in_pairs(plan: Plan) -> tuple[PlannedSet, ...]:
    """A set for every two masters, all like the first."""
    versions = plan.shelf.versions
    first = PlannedSet(name="first", versions=versions[:2])
    done, _ = assigned(replace(plan, sets=(first,)), Outlets())
    return tuple(_renamed(done.sets[0], versions[at : at + 2]) for at in range(0, len(versions), 2))


def _renamed(first: PlannedSet, pair: tuple[str, ...]) -> PlannedSet:
    names = dict(zip(first.versions, pair, strict=True))
    return replace(
        first,
        name=f"set-{pair[0]}",
        versions=pair,
        matrix=tuple(replace(one, version=names[one.version]) for one in first.matrix),
        best={place: names.get(one or "") for place, one in first.best.items()},
        runner_up=None,
        basis="",
    )


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--masters", type=int, default=10_000)
    count = parser.parse_args().masters
    home = Path(tempfile.mkdtemp())
    folder = on_disk(home / "job", *one_planned(home), count)
    with folder.held():
        plan = folder.must_read()
        sets = in_pairs(plan)
        with cpu(f"{len(sets)} sets put on the disk"):
            folder.write(replace(plan, sets=sets))
    with cpu("opening"):
        plan = JobFolder(home / "job").must_read()
    with cpu("listing every set in full"):
        print(sum(len(one.best) for one in plan.sets), "places")
    with cpu("a table of all masters"):
        print(sum(1 for _ in summary.tallies(plan)), "rows")
    page(Talk(home / "job"), plan.shelf.versions[count // 2 : count // 2 + 2])
    shutil.rmtree(home)


def page(talk: Talk, pair: tuple[str, ...]) -> None:
    talk.desk.look()
    for what, path in {
        "the wall's first page": "/",
        "another": "/?page=9",
        "narrowed": "/?show=open&find=wool-0012",
        "one master": f"/api/master/{pair[0]}",
        "a page of files": "/api/job?show=open&page=3",
        "one set": f"/api/set/set-{pair[0]}",
    }.items():
        with cpu(what):
            assert talk.get(path).status_code == 200
    told = talk.get(f"/api/master/{pair[0]}").json()
    name = next(one["name"] for one in told["master"]["cards"] if one["chosen"])
    revision = told["revision"]
    with cpu("changing one crop"):
        body = {"version": pair[0], "destination": name, "index": 0, "revision": revision}
        revision = talk.post("/api/choose", body).json()["revision"]
    with cpu("assigning one set"):
        body = {"set_name": f"set-{pair[0]}", "destination": name, "version": pair[1]}
        talk.post("/api/fix", {**body, "revision": revision})


if __name__ == "__main__":
    main()
