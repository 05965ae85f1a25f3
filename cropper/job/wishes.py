"""The photographer's own picks and crops of a run, laid over what was proposed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from cropper.errors import CropperError, MisuseError
from cropper.job.asked import Asked, HandCrop
from cropper.job.choices import made_by_hand, picked
from cropper.job.one_master import measurer
from cropper.job.plan import Choice, Plan, PlannedMaster


def wished(plan: Plan, touched: Sequence[str], asked: Asked, now: datetime) -> Plan:
    """The photographer's picks and crops of this run."""
    for pick in asked.picks:
        master = _meant(plan, pick.version, touched, pick.destination)
        choice = picked(master, pick.destination, pick.number, now)
        plan = plan.with_master(master.with_choice(pick.destination, choice))
    for crop in asked.crops:
        master = _meant(plan, crop.version, touched, crop.destination)
        choice = _drawn(plan, master, crop, now)
        plan = plan.with_master(master.with_choice(crop.destination, choice))
    return plan


def _drawn(plan: Plan, master: PlannedMaster, crop: HandCrop, now: datetime) -> Choice:
    destination = plan.destination(crop.destination)
    if destination is None or master.answer(crop.destination) is None:
        raise MisuseError(
            f"'{crop.destination}' is not planned for '{master.version}'",
            way_out="Name it with --for as well",
        )
    measure = measurer(master, destination)
    try:
        return made_by_hand(master, destination, crop.box, measure=measure, now=now)
    except ValueError as error:
        raise CropperError(
            f"a crop of '{master.version}' cannot be measured while its eyes are not known",
            way_out="Place them as well: --eyes X,Y X,Y",
        ) from error


def _meant(plan: Plan, version: str, touched: Sequence[str], destination: str) -> PlannedMaster:
    """The master a hand's wish is about: named, or the only one of this run."""
    if version:
        return _must_have(plan, version)
    if len(touched) == 1:
        return _must_have(plan, touched[0])
    raise MisuseError(
        f"which picture is the wish for '{destination}' about? {len(touched)} are meant",
        way_out=f"Write VERSION:{destination}=..., with the version's name from the table",
    )


def _must_have(plan: Plan, version: str) -> PlannedMaster:
    master = plan.master(version)
    if master is None:
        names = plan.shelf.versions
        listed = ", ".join(names[:12]) + (" ..." if len(names) > 12 else "")  # noqa: PLR2004
        raise MisuseError(
            f"this job has no version '{version}'", way_out=f"It has {listed or 'none'}"
        )
    return master
