"""From a job's plan to a sheet: the one place where the proof room reads what the job remembers."""

from __future__ import annotations

from pathlib import Path, PurePath

from PIL import Image

from cropper.errors import MasterError
from cropper.job.plan import ChoiceState, Plan, PlannedMaster, PlannedSet
from cropper.proof.entry import MatrixCell, Picture, ProofEntry, ProofMaster, SetMatrix, Sheet

LOOK_AGAIN = "Look again: the master, its people or the destination changed after this choice."


def sheet(plan: Plan, job: Path, title: str) -> Sheet:
    """Everything of the plan that a sheet shows; pictures are opened only when they are drawn.

    The date is the plan's own: the same plan gives the same sheet.
    """
    return Sheet(
        title=title,
        masters=tuple(_master(one, plan, job) for one in plan.masters),
        matrices=tuple(_matrix(one, plan) for one in plan.sets),
        failures=tuple(
            (_name(one.file), one.sentence.replace(one.file, _name(one.file)))
            for one in plan.failed
        ),
        dated=f"planned {plan.made_at:%d %B %Y, %H:%M} UTC",
    )


def _name(file: str) -> str:
    """The file's own name: a sheet that is sent on does not tell how folders are laid out."""
    return PurePath(file).name or file


def _master(master: PlannedMaster, plan: Plan, job: Path) -> ProofMaster:
    rivals = plan.set_of(master.version)
    return ProofMaster(
        version=master.version,
        file=_name(master.file),
        finding=master.finding,
        picture=_opened(master, job),
        entries=_entries(master, plan),
        set_name=rivals.name if rivals else "",
        remarks=master.remarks,
    )


def _opened(master: PlannedMaster, job: Path) -> Picture:
    """Opens the master and refuses one that is no longer what was planned."""

    def picture(longest: int) -> Image.Image:
        from cropper.master.opening import open_master  # noqa: PLC0415 - brings the decoders

        opened = open_master(master.located(job))
        if opened.sha256 != master.sha256:
            raise MasterError(
                f"{master.file} has changed since it was planned, so its crops no longer apply",
                way_out="Plan it again: cropper plan, with the same --job",
            )
        return Image.fromarray(opened.srgb8(longest))

    return picture


def _entries(master: PlannedMaster, plan: Plan) -> tuple[ProofEntry, ...]:
    entries = []
    for answer in master.answers:
        destination = plan.destination(answer.destination)
        if destination is None:
            continue
        choice = master.choices.get(answer.destination)
        again = choice is not None and choice.state is ChoiceState.LOOK_AGAIN
        entries.append(
            ProofEntry(
                destination=destination,
                answer=answer,
                chosen=master.chosen(answer.destination),
                chosen_by=choice.chosen_by if choice else "cropper",
                note=LOOK_AGAIN if again else "",
            )
        )
    return tuple(entries)


def _matrix(rivals: PlannedSet, plan: Plan) -> SetMatrix:
    planned = {cell.destination for cell in rivals.matrix}
    costs = (rivals.runner_up_costs,) if rivals.runner_up_costs else ()
    return SetMatrix(
        name=rivals.name,
        versions=rivals.versions,
        destinations=tuple(one.name for one in plan.destinations if one.name in planned),
        cells=tuple(
            MatrixCell(
                version=cell.version,
                destination=cell.destination,
                verdict=cell.verdict,
                lost=cell.lost,
                spare_px=cell.spare_px,
                sentence=cell.sentence,
                place=_place(rivals, cell.version, cell.destination),
            )
            for cell in rivals.matrix
        ),
        sentences=(*rivals.sentences, *costs),
    )


def _place(rivals: PlannedSet, version: str, destination: str) -> str:
    if rivals.best.get(destination) == version:
        return "assigned"
    if rivals.runner_up is not None and rivals.runner_up.get(destination) == version:
        return "runner-up"
    return ""
