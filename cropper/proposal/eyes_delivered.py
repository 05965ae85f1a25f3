"""What the eyes look like at the delivered size, in sentences.

They are told beside a crop's reasons and change no measure, cost or verdict: a blurred eye can be
the picture's intent.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from cropper.subject.subject import EyeDetail, EyesState, Subject, Turn

SOFT_PX: Final = 1.25
"""House: an eye whose edges are blurred by more than this many delivered pixels (one standard
deviation) is told. Seen on twenty portraits marked by hand, at their own pixels: the one whose eyes
look soft has 1.3, those that look sharp up to 1.2. Arithmetic: a Gaussian of sigma s keeps
exp(-2 (pi s f)**2) of the contrast at f cycles per pixel, so that 14 % of detail four pixels wide
is left. The depth-of-field limit of common practice (from memory), a disc of .25 mm on a print at
25 cm, is stricter: .74 px at 300 ppi."""
EYE_WIDTH: Final = 0.48
"""Width of an eye between its corners, in distances between the pupils: 31 mm of 63 mm (common
anthropometric means, from memory)."""
LEAST_SEEN_PX: Final = 1.0
"""House: lids that differ by less than one delivered pixel look alike."""
_UNSEEN: Final = frozenset({EyesState.HIDDEN, EyesState.COVERED})
_NEARLY_SHUT: Final = frozenset({EyesState.HALF, EyesState.CLOSED})


def eyes_at(people: Sequence[Subject], enlargement: float) -> tuple[str, ...]:
    """Sentences on the people's eyes; none where all is well or nothing was measured.

    ``enlargement`` is delivered pixels over master pixels. Of a turned head the nearer eye counts,
    the one on the side that the head turns away from; of a facing one the sharper eye.
    """
    soft = [blur for one in people if (blur := soft_by(one, enlargement)) is not None]
    winking = [one for one in people if one_eye_nearly_shut(one, enlargement)]
    told = []
    if soft:
        told.append(_soft(people, soft))
    if winking:
        who = "" if len(people) == 1 else f" of {len(winking)} of {len(people)} people"
        told.append(f"One eye{who} is nearly shut.")
    return tuple(told)


def soft_by(one: Subject, enlargement: float) -> float | None:
    """Blur of the eye that counts, in delivered px, if it is more than :data:`SOFT_PX`."""
    blurs = [
        eye.blur_px * enlargement
        for eye in _that_count(one)
        if eye is not None and eye.state not in _UNSEEN and eye.blur_px is not None
    ]
    least = min(blurs, default=0.0)
    return least if least > SOFT_PX else None


def _that_count(one: Subject) -> tuple[EyeDetail | None, ...]:
    """The nearer eye's detail; both of a facing head, or where the nearer one cannot be seen."""
    both = (one.left_detail, one.right_detail)
    if one.turned is Turn.FACING:
        return both
    nearer = both[0] if one.turned is Turn.RIGHT else both[1]
    return (nearer,) if nearer is not None and nearer.state not in _UNSEEN else both


def one_eye_nearly_shut(one: Subject, enlargement: float) -> bool:
    """Whether one eye is open and the other nearly shut, by as much as the delivered size shows."""
    both = [eye for eye in (one.left_detail, one.right_detail) if eye is not None]
    opened = [eye for eye in both if eye.state is EyesState.OPEN]
    shut = [eye for eye in both if eye.state in _NEARLY_SHUT]
    if not opened or not shut or opened[0].openness is None or shut[0].openness is None:
        return False
    lids_px = (opened[0].openness - shut[0].openness) * EYE_WIDTH * one.between_eyes_px
    return lids_px * enlargement >= LEAST_SEEN_PX


def _soft(people: Sequence[Subject], blurs: Sequence[float]) -> str:
    most = f"up to {max(blurs):.1f}" if len(blurs) > 1 else f"{blurs[0]:.1f}"
    blurred = f"blurred by {most} px"
    if len(people) > 1:
        return f"The eyes of {len(blurs)} of {len(people)} people are {blurred} at this size."
    if people[0].turned is Turn.FACING:
        return f"The eyes are {blurred} at this size."
    return f"The nearer eye is {blurred} at this size."
