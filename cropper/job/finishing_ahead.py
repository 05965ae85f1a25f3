"""Files finished while their master is still in hand: planned and finished in one decode.

What a master will owe is guessed from its own plan, and laid on the stage (:mod:`.stage`). The
export alone decides what is delivered and under which name; it takes over what it finds there by
its basis. A wrong guess costs time, never a wrong file.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import replace

from cropper.deliverable.words import Words
from cropper.errors import CropperError
from cropper.job.approving import why_withheld
from cropper.job.making import FileOrder, MasterOrder, basis_of, make_files
from cropper.job.one_master import Looker, MasterDone, MasterTask, brought_up
from cropper.job.plan import PlannedMaster
from cropper.job.putting import made_folder
from cropper.job.stage import stage_of, tell, told
from cropper.job.wording import JobWords, words_for
from cropper.master.decoding import LAST


def to_be_finished(
    tasks: Iterable[MasterTask], words: JobWords, rivals: Collection[str]
) -> Iterator[MasterTask]:
    """The tasks, each with the words of its files; not those of ``rivals``.

    Which version of a set goes where is known only when all are planned.
    """
    for task in tasks:
        yield task if task.version in rivals else replace(task, words=_words(task, words))


def _words(task: MasterTask, words: JobWords) -> Mapping[str, Words]:
    return {
        one.name: words_for(
            words, version=task.version, destination=one.name, recipient=one.recipient
        ).words
        for one in task.destinations
    }


def bring_up_and_finish(task: MasterTask, looker: Looker) -> MasterDone:
    """Bring the master up to date and, if the task says so, lay its files on the stage.

    Only while its pixels are in memory: what was planned before is left to the export.
    """
    done, master = brought_up(task, looker)
    if task.words is not None and master is not None and LAST.get(master.sha256) is not None:
        with suppress(CropperError):  # the export meets the same, and tells of it
            _stage(task, master, task.words)
    return done


def _stage(task: MasterTask, master: PlannedMaster, words: Mapping[str, Words]) -> None:
    stage = stage_of(task.job, task.version)
    made_folder(stage.parent)
    made_folder(stage)
    before = told(stage)
    orders = []
    for number, destination in enumerate(task.destinations):
        chosen = master.chosen(destination.name)
        if chosen is None or why_withheld(master, destination.name, approved_only=False):
            continue
        mine = words[destination.name]
        basis = basis_of(master.sha256, chosen.crop, destination, mine)
        order = FileOrder(
            number=number,
            name=basis,
            plain="",
            version=task.version,
            basis=basis,
            crop=chosen.crop,
            destination=destination,
            words=mine,
            before=before.get(basis),
        )
        orders.append(order)
    made = make_files(
        MasterOrder(path=task.file, sha256=master.sha256, folder=stage, files=tuple(orders))
    )
    tell(stage, (one.entry for one in made if one.entry is not None))
