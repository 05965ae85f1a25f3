"""What was found out about a file, in sentences: what, how sure, by which figures."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Final

from cropper.geometry import Extent, Size
from cropper.job.identifying import Identified, Match
from cropper.likeness.faces import Faces
from cropper.likeness.likeness import Likeness
from cropper.likeness.recognising import State

WHY_IT_DIFFERS: Final = "covered or retouched, or another version that this job does not know"


def row(one: Identified) -> tuple[str, ...]:
    """A line of the table: file, answer, version, destination, crop found, figures."""
    name = Path(one.file).name
    if one.state is None:
        return name, "cannot be read", "", "", "", ""
    if one.state is State.UNKNOWN:
        return name, str(one.state), "", "", "", ""
    versions = dict.fromkeys(match.master.version for match in one.matches)
    places = dict.fromkeys(where(match) for match in one.matches)
    best = one.matches[0].likeness
    return (
        name,
        str(one.state),
        " or ".join(versions),
        " or ".join(places),
        crop_words(best) if best else "",
        figures(best) if best else "same bytes",
    )


def summary(one: Identified) -> str:
    """The answer in one sentence, for a list of events."""
    if one.state is None:
        return f"Cannot be read: {one.problem}"
    if one.state is State.UNKNOWN:
        return f"{one.state}"
    versions = " or ".join(dict.fromkeys(match.master.version for match in one.matches))
    places = " or ".join(dict.fromkeys(where(match) for match in one.matches))
    return f"{one.state}: {versions}, {places}"


def where(match: Match) -> str:
    """The destination in a few words."""
    if match.itself:
        return "the master itself"
    if not match.cuts:
        return "none of the crops"
    names = " or ".join(dict.fromkeys(cut.of.destination for cut in match.cuts))
    best = match.cuts[0]
    planned = "" if best.of.exported else ", planned only"
    return f"{names}{'' if best.whole else ', cut further'}{planned}"


def crop_words(one: Likeness) -> str:
    """The crop found in the master: ``x0,y0 x1,y1 +-give``."""
    box = one.crop.box
    turned = f", turned {one.crop.turn_deg:+.1f}°" if one.crop.turn_deg else ""
    return f"{box.x0},{box.y0} {box.x1},{box.y1} ±{math.ceil(one.crop.give_px)} px{turned}"


def figures(one: Likeness) -> str:
    """How well it agrees: features on one map, tiles that show the same, their correlation."""
    share = f"{one.agreeing:.0%} of {one.tiles} tiles"
    return f"{one.pairs} features, {share}, correlation {one.correlation:.2f}"


def sentences(one: Identified) -> tuple[str, ...]:
    """What a person should know beyond the table's line."""
    name = Path(one.file).name
    if one.problem is not None:
        return (f"Cannot be read: {one.problem}",)
    if one.state is State.UNKNOWN:
        return (_unknown(name, one),)
    said = [*_doubt(name, one), *_remarks(name, one)]
    said += [f"{name}: {run}" for match in one.matches for run in match.runs]
    return tuple(said)


def _unknown(name: str, one: Identified) -> str:
    if not one.matches:
        return f"{name}: unknown. It lies on no picture of the job."
    nearest = one.matches[0]
    like = nearest.likeness
    agreeing = f"{like.agreeing:.0%}" if like else "a part"
    return (
        f"{name}: unknown. It resembles {nearest.master.version}, but only {agreeing} of what it"
        " shows is the same: another picture of that sitting, or much worked over."
    )


def _doubt(name: str, one: Identified) -> list[str]:
    """Why the answer is undecided."""
    if one.state is not State.UNDECIDED:
        return []
    versions = list(dict.fromkeys(match.master.version for match in one.matches))
    if len(versions) > 1:
        told = " and ".join(versions)
        return [f"{name}: {told} are too near to each other to tell which one this shows."]
    likeness = one.matches[0].likeness
    if likeness is not None and likeness.faces is Faces.DIFFER:
        return [f"{name}: it is {versions[0]} but for a face: {WHY_IT_DIFFERS}."]
    if likeness is not None and likeness.leans:
        return [f"{name}: it is {versions[0]}, but leans over: another frame of that sitting."]
    if likeness is None or likeness.differs is None or one.size is None:
        return []
    place = _place(likeness.differs, one.size)
    return [f"{name}: it is {versions[0]} but for a place {place}: {WHY_IT_DIFFERS}."]


def _remarks(name: str, one: Identified) -> list[str]:
    match = one.matches[0]
    likeness, said = match.likeness, []
    if likeness is not None and likeness.faces is Faces.TOO_SMALL:
        said.append(
            f"{name}: faces are too small in it to tell {match.master.version} from another frame"
            " of that sitting."
        )
    if likeness is not None and likeness.mirrored:
        said.append(f"{name}: it is mirrored.")
    if likeness is not None and one.size is not None and _within(likeness.shown, one.size):
        said.append(
            f"{name}: the picture is a part of the file, {_place(likeness.shown, one.size)}."
        )
    if match.others:
        others = ", ".join(dict.fromkeys(cut.of.destination for cut in match.others))
        said.append(f"{name}: it was cut further, perhaps from a larger crop: {others}.")
    if not match.itself and not match.cuts:
        said.append(f"{name}: it shows {match.master.version}, in none of the job's crops.")
    return said


def _within(shown: Extent, size: Size) -> bool:
    area = shown.width * shown.height
    return area < 0.97 * size.width * size.height


def _place(part: Extent, size: Size) -> str:
    """A part of the file in hundredths of its sides."""
    across = f"{part.x0 / size.width:.0%} to {part.x1 / size.width:.0%} across"
    return f"{across}, {part.y0 / size.height:.0%} to {part.y1 / size.height:.0%} down"
