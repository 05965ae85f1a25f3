"""Measures as sentences a photographer would say; numbers rounded for the eye."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

from cropper.destination.shots import Shot
from cropper.proposal import house
from cropper.proposal.proposal import Measure, Verdict
from cropper.proposal.scene import Scene
from cropper.subject.subject import FACING_BELOW

Band = tuple[float | None, float | None]

ARTICLES: Final = {
    Shot.EXTREME_CLOSE_UP: "an extreme close-up",
    Shot.BIG_CLOSE_UP: "a big close-up",
    Shot.CLOSE_UP: "a close-up",
    Shot.BUST: "a bust",
    Shot.HALF_LENGTH: "a half length",
    Shot.THREE_QUARTER: "a three-quarter length",
    Shot.FULL: "a full length",
}
ENDINGS: Final = {
    Verdict.HOLDS: "",
    Verdict.BENDS: " This bends the usual band.",
    Verdict.BREAKS: " This is past the limit.",
    Verdict.UNCERTAIN: " The points are not sure enough to say on which side of the limit.",
}


def percent(share: float) -> str:
    """A share as a whole percent, ``about 0`` never as ``-0``."""
    rounded = round(100 * share)
    return f"{rounded} %"


def sentence_of(scene: Scene, rule: str, value: float, target: Band, verdict: Verdict) -> str:
    """One sentence for one measure."""
    if rule == "one head" and scene.group:
        return "An identity picture shows one person."
    if rule in NEVER_WORDS:
        kept, broken = NEVER_WORDS[rule]
        if verdict is Verdict.HOLDS:
            return f"{kept}."
        if verdict is Verdict.UNCERTAIN:
            return f"{kept if value >= 0 else broken}, within the points' uncertainty."
        return f"{broken}, by {-value:.0f} px."
    return GRADED_WORDS[rule](scene, value, target) + ENDINGS[verdict]


NEVER_WORDS: Final = {
    "inside": ("The crop lies inside the master", "The crop reaches outside the master"),
    "pixels": ("There are pixels enough", "There are too few pixels"),
    "eyes": ("The eyes stand inside with room to spare", "An eye is cut or too near an edge"),
    "chin": ("The chin stands inside", "The chin is cut or too near the lower edge"),
    "gutter": ("No head touches the gutter", "A head lies in the gutter"),
    "zones": ("The covered zones stay clear", "A covered zone lies over what must stay clear"),
    "bystanders": ("Other heads are whole or absent", "An edge cuts through another head"),
    "one head": (
        "One head, inside the template's limits",
        "Not one head inside the template's limits",
    ),
    "heads whole": ("Every head of the group is whole", "A head of the group is cut at the side"),
}


def _framing(scene: Scene, value: float, target: Band) -> str:
    if scene.destination.head_share is not None:
        return f"The head takes {percent(value)} of the height, chin to skull top."
    least, most = target
    wanted = f"{least:.1f} to {most:.1f}" if most is not None and most < 99 else f"{least:.1f} on"  # noqa: PLR2004 - open end
    return f"The frame reaches {value:.2f} heads below the skull top; {wanted} are wanted."


def _crown(scene: Scene, value: float, target: Band) -> str:
    del target
    if value < 0:
        told = f"The upper edge cuts the crown {-value:.2f} heads below the hair top."
        if scene.tallest.crown_cut:
            told = "The crown lies outside the master already."
        return told
    return f"The crown is clear by {value:.2f} heads."


def _eye_line(scene: Scene, value: float, target: Band) -> str:
    del target
    if not scene.group or scene.destination.eye_line is not None:
        return f"The eye line lies {percent(value)} from the top."
    which = "lowest" if value > 1 / 3 else "highest"
    return f"The {which} eyes of the group lie {percent(value)} from the top."


def _headroom(scene: Scene, value: float, target: Band) -> str:
    del scene
    least, most = target
    usual = f"usual are {percent(least or 0)} to {percent(most or 0)}"
    if value >= 0 and (value < (least or 0) or value > (most or 1)):
        return f"Headroom is {100 * value:.1f} % of the height; {usual}."
    if value < 0:
        return f"The upper edge cuts the hair {percent(-value)} of the height below its top."
    return f"Headroom is {percent(value)} of the height; {usual}."


def _joints(scene: Scene, value: float, target: Band) -> str:
    del target
    if value <= 0:
        return "No edge cuts at a joint."
    del scene
    return "An edge cuts near a joint or through the neck."


def _across(scene: Scene, value: float, target: Band) -> str:
    del target
    where = f"The eyes stand {percent(value)} from the left"
    if scene.group:
        return f"{where}, the group about the middle."
    turn = scene.people[0].turn
    if scene.destination.gutter is not None:
        page = "left" if value < 1 / 2 else "right"
        return f"{where}, on the {page}-hand page."
    if abs(turn) <= FACING_BELOW:
        return f"{where}; a facing head wants the middle."
    side = "right" if turn > 0 else "left"
    front = 1 - value if turn > 0 else value
    return f"{where}: {percent(front)} of the width lies in front of a head turned {side}."


def _kept(scene: Scene, value: float, target: Band) -> str:
    del scene, target
    return f"It uses {percent(value)} of the largest crop of this shape."


GRADED_WORDS: Final[dict[str, Callable[[Scene, float, Band], str]]] = {
    "framing": _framing,
    "crown": _crown,
    "eye line": _eye_line,
    "headroom": _headroom,
    "joints": _joints,
    "across": _across,
    "kept": _kept,
}


def reasons_of(scene: Scene, measures: Sequence[Measure], shot: Shot) -> tuple[str, ...]:
    """One or two sentences for a whole crop: what it is, and what it had to give."""
    by_rule = {one.rule: one for one in measures}
    if scene.destination.full_frame:
        return ("The whole frame, uncropped.",)
    return (_what_it_is(scene, by_rule, shot), _what_it_gives(scene, measures))


def _what_it_is(scene: Scene, by_rule: dict[str, Measure], shot: Shot) -> str:
    eye, across = by_rule["eye line"].value or 0.0, by_rule["across"].value or 0.0
    crown = by_rule["crown"].value or 0.0
    head = f"{percent(by_rule['headroom'].value or 0.0)} headroom"
    if crown < 0:
        head = _cut(scene, by_rule["crown"], crown)
    what = ARTICLES[shot].capitalize()
    if scene.group:
        what = f"{len(scene.people)} people, {ARTICLES[shot]}"
    placed = f"eyes {percent(eye)} from the top and {percent(across)} from the left"
    return f"{what}: {placed}, {head}."


def _cut(scene: Scene, rule: Measure, crown: float) -> str:
    """A cut crown in words: only a decided one within the limits is called meant."""
    if scene.tallest.crown_cut:
        return "the crown outside the master"
    if crown > -house.CUT_LEAST_HEADS:
        return "the crown grazed"
    return "the crown cut" if rule.verdict is Verdict.BREAKS else "the crown cut on purpose"


def _what_it_gives(scene: Scene, measures: Sequence[Measure]) -> str:
    order = (Verdict.BREAKS, Verdict.UNCERTAIN, Verdict.BENDS)
    for verdict in order:
        for one in measures:
            if one.verdict is verdict:
                return _why(scene, one)
    return "Every rule holds."


def _why(scene: Scene, one: Measure) -> str:
    """The first rule that gave, and what forced it where that can be said."""
    if one.rule == "framing" and one.value is not None and one.target is not None:
        least, most = one.target
        if most is not None and one.value > most and scene.least_width > 1:
            return f"Looser than asked. {one.sentence}"
        if least is not None and one.value < least:
            return f"Tighter than asked: the master gives no more. {one.sentence}"
    return one.sentence
