"""Why a crop is as it is, in at most two short sentences: what it is, and what it had to give."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from cropper.destination.shots import Shot
from cropper.proposal import house
from cropper.proposal.look import Look
from cropper.proposal.proposal import Measure, Verdict
from cropper.proposal.rules import RULES
from cropper.proposal.rules.rule import first, percent
from cropper.proposal.scene import Scene

UNTOLD: Final = frozenset(rule.name for rule in RULES if not rule.told)
"""Rules that pull a little everywhere: nobody wants to hear of them."""
WEIGHTIEST: Final = (Verdict.BREAKS, Verdict.UNCERTAIN, Verdict.BENDS)


def reasons_of(
    scene: Scene,
    look: Look,
    measures: Sequence[Measure],
    doubts: Sequence[str],
    shot: Shot | None,
) -> tuple[str, ...]:
    """At most two sentences; the first names what must be looked at, if anything must."""
    if scene.destination.full_frame:
        broken = _weightiest(measures)
        return (broken.sentence,) if broken else ("The whole picture, uncropped.",)
    decided = _weightiest(measures)
    if doubts:
        return (doubts[0], decided.sentence) if decided else (doubts[0], _what(scene, look, shot))
    what = _what(scene, look, shot)
    return (what, decided.sentence) if decided else (what,)


def _weightiest(measures: Sequence[Measure]) -> Measure | None:
    """The rule that gave most, if any gave as much as an eye sees."""
    for verdict in WEIGHTIEST:
        given = [one for one in measures if one.verdict is verdict]
        if given:
            return max(given, key=lambda one: one.cost)
    seen = [one for one in measures if one.cost >= house.EYE_SEES and one.rule not in UNTOLD]
    return max(seen, key=lambda one: one.cost, default=None)


def _what(scene: Scene, look: Look, shot: Shot | None) -> str:
    if shot is None:
        return "Keeps the master's own composition."
    who = f"{len(scene.people)} people, {shot.value}" if scene.group else shot.value.capitalize()
    eyes = f"eyes {percent(first(look.eye_line))} from the top"
    return f"{who}, {eyes}."
