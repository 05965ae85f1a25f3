"""Whom the picture is about, and why; and what a photographer may change of that by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from cropper.geometry import Point, Size
from cropper.subject.subject import Finding, Subject

ALIKE_SIZE: Final = 0.6
"""Heads at least this tall, of the tallest principal one, are principal too (house: a pair at
different distances, a row; measured on the demo .75 and more)."""
ALIKE_SHARPNESS: Final = 0.25
"""Of the sharpest: less is out of focus, and so a bystander (house)."""
WORTH_COMPARING: Final = 0.3
"""Heads below this share of the tallest say nothing about who is sharp: small heads look so."""
CENTRAL: Final = 0.35
"""Half diagonals from the middle of the picture (house)."""
NO_SUBJECTS: Final = "nobody was found"
PLACE_BY_HAND: Final = "place the eyes by hand with --eyes X,Y X,Y"
"""The way out whenever a finder is at a loss."""


def _off_centre(subject: Subject, size: Size) -> float:
    """Distance of the eyes from the middle of the picture, in half diagonals."""
    middle = Point(size.width / 2, size.height / 2)
    return subject.eyes.to(middle) / Point(0, 0).to(middle)


def _lead(subjects: Sequence[Subject], size: Size) -> Subject:
    """The tallest of the sharp heads; ties go to the more central, then to the left."""
    tallest = max(subject.head_height_px for subject in subjects)
    compared = [s for s in subjects if s.head_height_px >= WORTH_COMPARING * tallest]
    sharpest = max(subject.sharpness for subject in compared)
    sharp = [s for s in compared if s.sharpness >= ALIKE_SHARPNESS * sharpest]
    return max(
        sharp,
        key=lambda s: (
            round(s.head_height_px / tallest, 2),
            -round(_off_centre(s, size), 2),
            -s.eyes.x,
        ),
    )


def _why(subject: Subject, lead: Subject, size: Size) -> tuple[bool, str]:
    """Whether a subject is principal beside the lead, and the reason in words."""
    share = subject.head_height_px / lead.head_height_px
    if subject is lead:
        place = "central" if _off_centre(subject, size) < CENTRAL else "sharp"
        return True, f"the largest {place} head"
    if subject.sharpness < ALIKE_SHARPNESS * lead.sharpness:
        return False, "out of focus beside the principal head"
    if share < ALIKE_SIZE:
        return False, f"the head is only {share:.0%} as tall as the principal one"
    return True, f"the head is {share:.0%} as tall as the largest, and as sharp"


def ranked(subjects: Sequence[Subject], size: Size) -> tuple[Subject, ...]:
    """The same subjects, each named principal or bystander with the reason, left to right."""
    if not subjects:
        return ()
    ordered = sorted(subjects, key=lambda s: (s.eyes.x, s.eyes.y))
    if len(ordered) == 1:
        return (ordered[0].as_principal(principal=True, why="the only person"),)
    lead = _lead(ordered, size)
    named = []
    for subject in ordered:
        principal, why = _why(subject, lead, size)
        named.append(subject.as_principal(principal=principal, why=why))
    return tuple(named)


def question(subjects: Sequence[Subject], bodies: Sequence[object] = ()) -> str | None:
    """The sentence that asks for the photographer's eye; None when all is well.

    ``bodies``: persons whose heads were not found.
    """
    if not subjects and bodies:
        return f"somebody is in the picture, but no head was found; {PLACE_BY_HAND}"
    if not subjects:
        return f"no face was found; {PLACE_BY_HAND}"
    doubtful = [s for s in subjects if s.principal and s.eyes_in_doubt]
    if not doubtful:
        return None
    whose = "" if len(subjects) == 1 else f" of {len(doubtful)} of {len(subjects)} people"
    doubts = "; ".join(dict.fromkeys(one.doubt for one in doubtful if one.doubt))
    reason = f" ({doubts})" if doubts else ""
    return f"the eyes{whose} are only estimated{reason}; look, or {PLACE_BY_HAND}"


def _nearest(finding: Finding, place: Point) -> Subject:
    if not finding.subjects:
        raise ValueError(NO_SUBJECTS)
    return min(finding.subjects, key=lambda subject: (subject.eyes.to(place), subject.eyes.x))


def chosen(finding: Finding, places: Sequence[Point]) -> Finding:
    """Only the subjects nearest to ``places`` are principal, by the photographer's word."""
    wanted = {id(_nearest(finding, place)) for place in places}
    named = tuple(
        subject.as_principal(
            principal=id(subject) in wanted,
            why="chosen by hand" if id(subject) in wanted else "not chosen by hand",
        )
        for subject in finding.subjects
    )
    return replace(finding, subjects=named)


def without(finding: Finding, place: Point) -> Finding:
    """The finding without the subject nearest to ``place``: a false face, or nobody to mind.

    Who is principal is judged anew among those left.
    """
    dropped = _nearest(finding, place)
    left = tuple(subject for subject in finding.subjects if subject is not dropped)
    if not left:
        problem = f"the only face was excluded by hand; {PLACE_BY_HAND}"
        return replace(finding, subjects=(), problem=problem)
    named = ranked(left, finding.size)
    return replace(finding, subjects=named, problem=question(named))
