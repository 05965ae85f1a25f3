"""Image regions of a job's masters, and crops taken from regions as the photographer's own."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from cropper.deliverable.manifest import crop_corners
from cropper.deliverable.region_reading import region_faults, regions_from_xmp
from cropper.deliverable.regions import CropTaken, Region, crops_from_regions, placed
from cropper.destination.destination import Destination
from cropper.errors import MisuseError
from cropper.geometry import Crop, Size
from cropper.job.adjusting import STRAIGHTEN_MOST_DEG, Drawn, by_hand
from cropper.job.one_master import measurer
from cropper.job.plan import Choice, Plan, PlannedMaster
from cropper.job.sidecars import regions_of
from cropper.job.store import JobFolder
from cropper.master.xmp import xmp_of


@dataclass(frozen=True, slots=True, kw_only=True)
class HandCropTaken:
    """One crop that now counts. ``corners``: x0, y0, x1, y1 in pixels of the upright master."""

    destination: str
    region: str
    corners: tuple[int, int, int, int]
    straighten_deg: float
    verdict: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """What came of reading one file. ``sentences``: what was not taken, or was changed, and why."""

    version: str
    crops: tuple[HandCropTaken, ...]
    sentences: tuple[str, ...]

    def mapping(self) -> dict[str, Any]:
        """As JSON values."""
        return {"format": 1, **asdict(self)}


def listed_regions(
    job: Path, *, version: str | None = None, only: Collection[str] = ()
) -> list[dict[str, str]]:
    """Every region of the job's masters, as a sidecar would hold it; ``where`` in pixels."""
    plan = JobFolder(job).must_read()
    _refuse_unknown(plan, only)
    masters = [_must_have(plan, version)] if version else plan.masters
    return [
        _row(master, region)
        for master in masters
        for region in regions_of(plan, master)
        if not only or region.name in only
    ]


def _row(master: PlannedMaster, region: Region) -> dict[str, str]:
    where = placed(region, Size(master.width, master.height))
    box, turn = where.box, where.straighten_deg
    corners = ",".join(f"{one:.0f}" for one in (box.x0, box.y0, box.x1, box.y1))
    return {
        "version": master.version,
        "id": region.id,
        "name": region.name,
        "outline": str(region.outline),
        "where": f"{corners}, turned {turn:g} degrees" if turn else corners,
        "roles": ", ".join(one.rpartition("/")[2] for one in region.roles),
    }


def take_regions(
    job: Path,
    source: Path,
    *,
    version: str | None = None,
    only: Collection[str] = (),
    now: datetime,
) -> Taken:
    """Take crops out of the XMP in ``source`` for one master; they count as chosen by hand.

    Raises :class:`CropperError` when the file or the job cannot be read.
    """
    packet = xmp_of(source)
    regions, folder = regions_from_xmp(packet), JobFolder(job)
    folder.must_read()
    with folder.held():
        plan = folder.in_today_s_format() or folder.must_read()
        _refuse_unknown(plan, only)
        master = _meant(plan, version, source)
        mine = [one for one in _destinations(plan, master) if not only or one.name in only]
        found = crops_from_regions(regions, Size(master.width, master.height), mine)
        choices = {one.destination: _choice(plan, master, one, now) for one in found}
        for name, choice in choices.items():
            master = master.with_choice(name, choice)
        if choices:
            folder.write(plan.with_master(master))
    crops = tuple(_taken(one, choices[one.destination]) for one in found)
    said = (
        *region_faults(packet),
        *_said(regions, found, crops, mine, Size(master.width, master.height)),
    )
    return Taken(version=master.version, crops=crops, sentences=said)


def _destinations(plan: Plan, master: PlannedMaster) -> Iterator[Destination]:
    return (one for one in plan.destinations if master.answer(one.name) is not None)


def _choice(plan: Plan, master: PlannedMaster, taken: CropTaken, now: datetime) -> Choice:
    destination = plan.destination(taken.destination)
    if destination is None:
        raise ValueError(f"the plan has no '{taken.destination}'")
    drawn = Drawn(box=taken.placed.box, straighten_deg=taken.placed.straighten_deg)
    measure = measurer(master, destination)
    return by_hand(master, destination, drawn, measure=measure, now=now)


def _taken(found: CropTaken, choice: Choice) -> HandCropTaken:
    if choice.hand is None:
        raise ValueError("a crop by hand holds its proposal")
    crop: Crop = choice.hand.crop
    return HandCropTaken(
        destination=found.destination,
        region=found.region.name or found.region.id,
        corners=crop_corners(crop),
        straighten_deg=crop.straighten_deg,
        verdict=str(choice.hand.verdict),
    )


def _said(
    regions: tuple[Region, ...],
    found: tuple[CropTaken, ...],
    crops: tuple[HandCropTaken, ...],
    asked: list[Destination],
    size: Size,
) -> Iterator[str]:
    """What a person should know of how it went."""
    if not regions:
        yield "No image region was found there."
        return
    taken = {one.destination for one in found}
    missing = [one.name for one in asked if one.name not in taken]
    if missing:
        yield f"No region names, or has the shape of: {', '.join(missing)}; their crops stay."
    for one, crop in zip(found, crops, strict=True):
        box, (x0, y0, x1, y1) = one.placed.box, crop.corners
        moved = max(abs(box.x0 - x0), abs(box.y0 - y0), abs(box.x1 - x1), abs(box.y1 - y1))
        if moved > 1:
            yield (
                f"For {one.destination} the region was moved by up to {moved:.0f} px to a crop"
                f" that can be delivered from {size.width} x {size.height} px."
            )
        if abs(one.placed.straighten_deg) > STRAIGHTEN_MOST_DEG:
            yield (
                f"For {one.destination} the region was turned by {one.placed.straighten_deg:.1f}"
                f" degrees; {STRAIGHTEN_MOST_DEG:g} are the most."
            )


def _meant(plan: Plan, version: str | None, source: Path) -> PlannedMaster:
    """The master named, or the only one, or the one that the file is called after."""
    if version:
        return _must_have(plan, version)
    versions = plan.shelf.versions
    if len(versions) == 1:
        return _must_have(plan, versions[0])
    if source.stem in versions:
        return _must_have(plan, source.stem)
    raise MisuseError(
        f"which master are the regions of {source.name} about? The job has {len(versions)}",
        way_out="Name it with --version",
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


def _refuse_unknown(plan: Plan, only: Collection[str]) -> None:
    known = [one.name for one in plan.destinations]
    for name in only:
        if name not in known:
            raise MisuseError(
                f"the job has no destination '{name}'",
                way_out=f"It has {', '.join(known) or 'none'}",
            )
