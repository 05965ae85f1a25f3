"""The photographer's marks laid over what the finder saw: eyes, crown, chin, who is principal."""

from __future__ import annotations

from dataclasses import replace

from cropper.geometry import Extent, Point, Size
from cropper.job.plan import HandMarks
from cropper.subject.by_hand import by_hand, placed
from cropper.subject.principal import question
from cropper.subject.subject import Finding, Subject


def scaled(finding: Finding, size: Size) -> Finding:
    """The same finding in pixels of a picture of ``size``."""
    across, down = size.width / finding.size.width, size.height / finding.size.height
    if across == down == 1:
        return finding
    subjects = tuple(_scaled(one, across, down) for one in finding.subjects)
    bodies = tuple(_stretched(box, across, down) for box in finding.bodies)
    return replace(finding, size=size, subjects=subjects, bodies=bodies)


def _stretched(box: Extent, across: float, down: float) -> Extent:
    return Extent(box.x0 * across, box.y0 * down, box.x1 * across, box.y1 * down)


def _scaled(one: Subject, across: float, down: float) -> Subject:
    return one.carried(
        lambda point: Point(point.x * across, point.y * down),
        head_box=_stretched(one.head_box, across, down),
        sigma_scale=down,
    )


def marked(finding: Finding, marks: HandMarks) -> Finding:
    """The finding as the photographer has it; ``ValueError`` says which mark makes no sense."""
    if not replace(marks, small_faces=False).given:
        return finding
    finding = replace(finding, subjects=_chosen(finding.subjects, marks))
    if marks.eyes is not None:
        finding = placed(finding, *marks.eyes, crown=marks.crown, chin=marks.chin)
    elif marks.crown is not None or marks.chin is not None:
        finding = replace(finding, subjects=_with_ends(finding, marks))
    return replace(finding, problem=question(finding.subjects))


def _chosen(subjects: tuple[Subject, ...], marks: HandMarks) -> tuple[Subject, ...]:
    """Who is principal, counted from 1; the excluded are no people at all."""
    for number in (*marks.principal, *marks.excluded):
        if not 1 <= number <= len(subjects):
            raise ValueError(f"there is no person {number}: {len(subjects)} were found")
    if marks.principal:
        subjects = tuple(
            one.as_principal(principal=number in marks.principal, why="named by hand")
            for number, one in enumerate(subjects, start=1)
        )
    kept = tuple(
        one for number, one in enumerate(subjects, start=1) if number not in marks.excluded
    )
    if kept and not any(one.principal for one in kept):
        return (kept[0].as_principal(principal=True, why="the others were excluded"), *kept[1:])
    return kept


def _with_ends(finding: Finding, marks: HandMarks) -> tuple[Subject, ...]:
    """Crown (the hair's top) and chin of the one principal person; the found eyes stay."""
    mine = finding.principals
    if len(mine) != 1:
        raise ValueError(f"--crown and --chin are about one person, and {len(mine)} are principal")
    return tuple(
        _ended(one, finding.size, marks) if one.principal else one for one in finding.subjects
    )


def _ended(one: Subject, size: Size, marks: HandMarks) -> Subject:
    ends = by_hand(size, one.left_eye, one.right_eye, crown=marks.crown, chin=marks.chin, found=one)
    return replace(
        ends,
        eye_sigma_px=one.eye_sigma_px,
        eyes_from=one.eyes_from,
        eyes_state=one.eyes_state,
        left_detail=one.left_detail,
        right_detail=one.right_detail,
        why=one.why,
        doubt=one.doubt,
    )
