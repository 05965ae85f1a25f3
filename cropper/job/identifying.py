"""What is this file? Its master, version, destination and runs, or honestly unknown.

Exact by the hash of the bytes first; else by likeness (``cropper.likeness``), and from the crop
found back in the master to the exported crop it comes from. Nothing is looked up anywhere else.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from cropper.errors import (
    EXIT_CANNOT,
    EXIT_DONE,
    EXIT_NEEDS_YOUR_EYE,
    EXIT_SOME_FAILED,
    MasterError,
    weightiest,
)
from cropper.geometry import Size
from cropper.job.known import Known, KnownCut, KnownMaster, Pictures
from cropper.likeness.cuts import Cut, cut_from, nearest
from cropper.likeness.likeness import Likeness
from cropper.likeness.recognising import Recognised, State, recognised
from cropper.master.opening import master_digest, open_master

FORMAT: Final = 1

RunsOf = Callable[[str], Sequence[str]]
"""Sentences about the runs of a finished file, by its SHA-256: the record's to give."""


def no_runs(_: str) -> tuple[str, ...]:
    """No record is at hand."""
    return ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Match:
    """One picture that the file may show. ``likeness`` None: the bytes are the very same.

    ``cuts``: the nearest exported or planned crops that hold it; empty for none of them.
    ``others``: larger ones it may have been cut down from. ``itself``: the file is the master.
    """

    master: KnownMaster
    likeness: Likeness | None = None
    cuts: tuple[Cut[KnownCut], ...] = ()
    itself: bool = False
    others: tuple[Cut[KnownCut], ...] = ()
    runs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Identified:
    """One file's answer. ``problem``: why it could not be read; then there is no state."""

    file: str
    state: State | None = None
    matches: tuple[Match, ...] = ()
    size: Size | None = None
    problem: str | None = None

    @property
    def known_well(self) -> bool:
        """Whether its answer needs nobody's eye."""
        return self.state in {State.EXACT, State.SURE}

    @property
    def exit_code(self) -> int:
        """What this file asks for in a batch."""
        if self.state is None:
            return EXIT_SOME_FAILED
        return EXIT_DONE if self.known_well else EXIT_NEEDS_YOUR_EYE


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What a look at a file's pixels told; ``problem``: why there was none."""

    size: Size | None = None
    answer: Recognised | None = None
    problem: str = ""


def identified(file: Path, known: Known, runs_of: RunsOf = no_runs) -> Identified:
    """What ``file`` is; what is wrong with it is said in :attr:`Identified.problem`."""
    told = told_at_once(file, known, runs_of)
    return told or told_by(file, seen(file, known.pictures), known, runs_of)


def told_at_once(file: Path, known: Known, runs_of: RunsOf) -> Identified | None:
    """What can be told without a look: the very bytes are known, or it is no file."""
    if not file.is_file():
        lacking = "there is no picture in this folder" if file.is_dir() else "there is no such file"
        return Identified(file=str(file), problem=f"{file}: {lacking}")
    try:
        return _exact(file, master_digest(file), known, runs_of)
    except MasterError as error:
        return Identified(file=str(file), problem=str(error))


def seen(file: Path, pictures: Pictures) -> Seen:
    """The look itself, all that takes time; nothing of ``known`` but its pictures is needed."""
    try:
        picture = open_master(file)
        answer = recognised(picture.srgb8(), pictures.shelf, pictures.load)
    except MasterError as error:
        return Seen(problem=str(error))
    return Seen(size=picture.size, answer=answer)


def told_by(file: Path, look: Seen, known: Known, runs_of: RunsOf) -> Identified:
    """The answer of a look, with what is known of the masters it names."""
    if look.answer is None:
        return Identified(file=str(file), problem=look.problem)
    matches = tuple(
        _match(master, one, runs_of)
        for one in look.answer.likenesses
        for master in known.masters.get(one.sha256, ())
    )
    return Identified(file=str(file), state=look.answer.state, matches=matches, size=look.size)


def _exact(file: Path, sha256: str, known: Known, runs_of: RunsOf) -> Identified | None:
    """The answer when the very bytes are known; several destinations may share them."""
    masters: dict[tuple[Path, str], tuple[KnownMaster, list[Cut[KnownCut]]]] = {}
    for master, cut in known.files.get(sha256, ()):
        masters.setdefault((master.job, master.version), (master, []))[1].append(
            Cut(of=cut, overlap=1.0)
        )
    matches = [
        Match(master=master, cuts=tuple(cuts), runs=_runs(cuts, runs_of))
        for master, cuts in masters.values()
    ]
    matches += [Match(master=one, itself=True) for one in known.masters.get(sha256, ())]
    if not matches:
        return None
    return Identified(file=str(file), state=State.EXACT, matches=tuple(matches))


def _match(master: KnownMaster, likeness: Likeness, runs_of: RunsOf) -> Match:
    shown = ((cut, cut.photographed(master.size)) for cut in master.cuts)
    holding = cut_from(likeness.crop, shown)
    cuts = nearest(holding)
    return Match(
        master=master,
        likeness=likeness,
        cuts=cuts,
        others=() if not cuts or cuts[0].whole else holding[len(cuts) :],
        runs=_runs(cuts, runs_of),
    )


def _runs(cuts: Sequence[Cut[KnownCut]], runs_of: RunsOf) -> tuple[str, ...]:
    """Runs of the finished files of these crops, each told once."""
    files = dict.fromkeys(cut.of.sha256 for cut in cuts if cut.of.exported)
    return tuple(dict.fromkeys(run for sha256 in files for run in runs_of(sha256)))


def exit_code(answers: Sequence[Identified]) -> int:
    """What ``identify`` exits with; the only file that cannot be read is a plain failure."""
    unreadable = [one for one in answers if one.state is None]
    if unreadable and len(unreadable) == len(answers):
        return EXIT_CANNOT
    return weightiest(*(one.exit_code for one in answers))


def as_mapping(answers: Sequence[Identified]) -> dict[str, Any]:
    """All answers as plain JSON values (schema ``identify.schema.json``)."""
    return {"format": FORMAT, "files": [mapping(one) for one in answers]}


def mapping(one: Identified) -> dict[str, Any]:
    """One answer as plain JSON values; places in pixels, y down."""
    return {
        "file": one.file,
        "state": None if one.state is None else str(one.state),
        "problem": one.problem,
        "width": one.size.width if one.size else None,
        "height": one.size.height if one.size else None,
        "matches": [_match_mapping(match) for match in one.matches],
    }


def _match_mapping(match: Match) -> dict[str, Any]:
    return {
        "job": str(match.master.job),
        "master": match.master.path.name,
        "master_sha256": match.master.sha256,
        "version": match.master.version,
        "set": match.master.set,
        "is_the_master": match.itself,
        "destinations": [_cut_mapping(cut) for cut in match.cuts],
        "or_cut_down_from": [_cut_mapping(cut) for cut in match.others],
        "runs": list(match.runs),
        "likeness": None if match.likeness is None else _likeness_mapping(match.likeness),
    }


def _cut_mapping(cut: Cut[KnownCut]) -> dict[str, Any]:
    box = cut.of.crop.box
    return {
        "destination": cut.of.destination,
        "exported": cut.of.exported,
        "file": cut.of.file or None,
        "sha256": cut.of.sha256 or None,
        "recipient": cut.of.recipient or None,
        "crop": [box.x0, box.y0, box.x1, box.y1],
        "overlap": round(cut.overlap, 4),
        "cut_further": not cut.whole,
    }


def _likeness_mapping(one: Likeness) -> dict[str, Any]:
    box, shown, differs = one.crop.box, one.shown, one.differs
    return {
        "crop": [box.x0, box.y0, box.x1, box.y1],
        "turn_deg": round(one.crop.turn_deg, 2),
        "give_px": round(one.crop.give_px, 1),
        "mirrored": one.mirrored,
        "shown": [round(v, 1) for v in (shown.x0, shown.y0, shown.x1, shown.y1)],
        "differs": None
        if differs is None
        else [round(v, 1) for v in (differs.x0, differs.y0, differs.x1, differs.y1)],
        "features": one.pairs,
        "residual_px": round(one.residual_px, 2),
        "tiles": one.tiles,
        "agreeing": round(one.agreeing, 4),
        "correlation": round(one.correlation, 4),
        "faces": str(one.faces),
        "shear": round(one.shear, 4),
    }
