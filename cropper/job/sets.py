"""Sets of rivals: the matrix of versions and destinations, and which version goes where."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import asdict, replace

from cropper.errors import MisuseError, RivalsError
from cropper.geometry import Size
from cropper.job.identity import RULES, digest
from cropper.job.plan import Cell, Plan, PlannedMaster, PlannedSet
from cropper.job.rival_sets import SetEntry, Sets, entry_of
from cropper.proposal.proposal import Answer
from cropper.publication import assignment, matrix
from cropper.publication.outlets import Outlets


def joined(plan: Plan, name: str, versions: Iterable[str], say: Callable[[str], None]) -> Plan:
    """The plan with ``versions`` in the set ``name``; a version is in one set at a time."""
    newly = dict.fromkeys(versions)
    sets: list[SetEntry] = []
    for entry in plan.rivals.entries:
        if entry.name == name:
            together = tuple(dict.fromkeys((*entry.versions, *newly)))
            sets.append(entry_of(replace(entry.planned, versions=together)))
            continue
        left = [version for version in entry.versions if version in newly]
        if not left:
            sets.append(entry)
            continue
        say(f"{', '.join(left)} moved from the set '{entry.name}' to '{name}'.")
        stay = tuple(version for version in entry.versions if version not in newly)
        if stay:
            sets.append(entry_of(replace(entry.planned, versions=stay)))
    if all(one.name != name for one in sets):
        sets.append(entry_of(PlannedSet(name=name, versions=tuple(newly))))
    return replace(plan, sets=Sets(sets))


def assigned(
    plan: Plan, outlets: Outlets, *, use_every_version: bool = False
) -> tuple[Plan, tuple[RivalsError, ...]]:
    """The plan with every set's matrix and assignment, and the clashes that stopped one."""
    clashes: list[RivalsError] = []
    sets: list[SetEntry] = []
    ground = _ground(outlets, every=use_every_version)
    for entry in plan.rivals.entries:
        basis = _basis(plan, entry.versions, ground)
        if basis and basis == entry.basis:
            sets.append(entry)
            continue
        one = entry.planned
        answers, sizes = _counting(plan, one)
        cells = matrix.matrix(answers, sizes)
        empty = replace(
            one,
            matrix=tuple(_cell(cell) for cell in cells),
            best={},
            runner_up=None,
            runner_up_costs="",
            sentences=(),
            assigned=False,
            basis="",
        )
        try:
            placed = _placed(empty, cells, answers, sizes, outlets, every=use_every_version)
            sets.append(entry_of(replace(placed, basis=basis)))
        except RivalsError as error:
            clash = error.inside(f"set '{one.name}'")
            clashes.append(clash)
            sets.append(entry_of(replace(empty, sentences=(str(clash),))))
    runs_in = {
        destination: tuple(outlet.name for outlet in outlets.of(destination))
        for destination in outlets.runs_in
    }
    return replace(plan, sets=Sets(sets), outlets=runs_in), tuple(clashes)


def _ground(outlets: Outlets, *, every: bool) -> str:
    """A digest of what every assignment rests on besides its masters."""
    known = {
        name: {**asdict(one), "audience": sorted(one.audience)}
        for name, one in outlets.outlets.items()
    }
    said = (outlets.runs_in, outlets.fixed, outlets.exclusives)
    return digest([RULES, known, *map(dict, said), every])


def _basis(plan: Plan, versions: Iterable[str], ground: str) -> str:
    """A digest of what one set's assignment rests on; empty where a master is not on the disk."""
    found = [plan.shelf.entry(one) for one in versions]
    texts = [one.card.text if one and one.card else "" for one in found]
    return digest([ground, list(versions), texts]) if all(texts) else ""


def _placed(
    planned: PlannedSet,
    cells: tuple[matrix.Cell, ...],
    answers: dict[str, tuple[Answer, ...]],
    sizes: dict[str, Size],
    outlets: Outlets,
    *,
    every: bool,
) -> PlannedSet:
    try:
        found = assignment.assign(
            matrix.costs(cells), outlets, fixed=_still_here(planned), use_every_version=every
        )
    except MisuseError as error:
        raise error.inside(f"set '{planned.name}'") from error
    shoot = tuple(one.sentence for one in matrix.what_to_shoot(answers, sizes))
    return replace(
        planned,
        best=found.versions,
        runner_up=dict(found.runner_up.versions) if found.runner_up else None,
        runner_up_costs=found.runner_up.sentence if found.runner_up else "",
        sentences=(*(_place_words(place) for place in found.placements), *shoot),
        assigned=True,
    )


def _still_here(planned: PlannedSet) -> dict[str, str]:
    """What is fixed, as far as the version is still in the set."""
    return {name: one for name, one in planned.fixed.items() if one in planned.versions}


def _place_words(place: assignment.Placement) -> str:
    return f"{place.destination}: {place.sentence}"


def _counting(
    plan: Plan, planned: PlannedSet
) -> tuple[dict[str, tuple[Answer, ...]], dict[str, Size]]:
    """Answers and sizes by version, the crop that counts first: a hand's choice is what runs."""
    places = [one for one in plan.shelf.entries if one.version in planned.versions]
    masters = [one.master for one in places]
    answers = {one.version: _answers(one) for one in masters}
    return answers, {one.version: Size(one.width, one.height) for one in masters}


def _answers(master: PlannedMaster) -> tuple[Answer, ...]:
    told = []
    for answer in master.answers:
        chosen = master.chosen(answer.destination)
        told.append(
            answer if chosen is None else replace(answer, proposals=(chosen,), no_crop=None)
        )
    return tuple(told)


def _cell(cell: matrix.Cell) -> Cell:
    return Cell(
        version=cell.version,
        destination=cell.destination,
        verdict=cell.verdict,
        cost=cell.cost,
        lost=cell.lost,
        spare_px=cell.spare_px,
        sentence=cell.sentence,
    )
