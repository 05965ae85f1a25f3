"""On what footing runs that stood apart can be compared: by reach, by days, or not at all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from cropper.publication.rates import Showing
from cropper.publication.responses import Count, Measure, Question, standing
from cropper.publication.saying import named

ORDER: Final = (Measure.VOTES, Measure.LIKES, Measure.COMMENTS)
"""Of several measures that all versions have, the first is read; the others are shown."""
LIKE_AGES: Final = 1.25
"""House value: ages that differ by more than a quarter are not one age, for attention fades."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Footing:
    """Showings on one footing: ``per`` says of what the exposures are."""

    measure: Measure
    showings: tuple[Showing, ...]
    per: str
    notes: tuple[str, ...]

    @property
    def cells(self) -> frozenset[tuple[str, str]]:
        """Which version ran at which outlet, however often."""
        return frozenset((one.outlet, one.version) for one in self.showings)


class NotComparableError(Exception):
    """The reason, in a sentence, why runs cannot be set against each other."""


def footing(question: Question, counts: Sequence[Count]) -> Footing:
    """The first measure that every version has, by reach where all tell it, else by days."""
    whole = [
        measure
        for measure in ORDER
        if {one.version for one in counts if one.measure is measure} == set(question.versions)
    ]
    if not whole:
        seen = {one.version for one in counts}
        missing = [name for name in question.versions if name not in seen]
        raise NotComparableError(
            f"nothing is counted for {named(missing)}."
            if missing
            else "no one measure (votes, likes, comments) was taken of every version."
        )
    measure = whole[0]
    mine = [one for one in counts if one.measure is measure]
    notes = [f"Also counted: {', '.join(whole[1:])}. Read are the {measure}."] if whole[1:] else []
    now = standing(mine)
    if all(one.reach for one in now):
        showings = tuple(_showing(one, float(one.reach or 0)) for one in now)
        per = "person reached"
    elif all(one.days for one in now):
        notes.append("Nobody noted how many people were reached: days stand in for them.")
        showings, per = _at_like_ages(mine), "day"
    else:
        raise _without_exposure(now)
    _refuse_unlinked(showings)
    return Footing(measure=measure, showings=showings, per=per, notes=tuple(notes))


def _without_exposure(now: Sequence[Count]) -> NotComparableError:
    bare = next((one for one in now if not one.reach and not one.days), None)
    return NotComparableError(
        f"nobody noted how many people '{bare.version}' reached at '{bare.outlet}', nor since when"
        " it was seen there."
        if bare
        else "some runs tell how many people they reached and others only how long they ran."
    )


def _showing(one: Count, exposure: float) -> Showing:
    return Showing(outlet=one.outlet, version=one.version, count=one.number, exposure=exposure)


def _at_like_ages(counts: Sequence[Count]) -> tuple[Showing, ...]:
    """At each outlet, every run as it stood at the age that all of them have reached."""
    showings: list[Showing] = []
    for outlet in sorted({one.outlet for one in counts}):
        runs: dict[tuple[str, ...], list[Count]] = {}
        for one in counts:
            if one.outlet == outlet:
                runs.setdefault(one.cell, []).append(one)
        age = min(max(_days(one) for one in run) for run in runs.values())
        picked = [min(run, key=lambda one: abs(_days(one) - age)) for run in runs.values()]
        _refuse_unlike_ages(outlet, picked)
        showings += [_showing(one, _days(one)) for one in picked]
    return tuple(showings)


def _days(one: Count) -> float:
    return one.days or 0.0


def _refuse_unlike_ages(outlet: str, picked: Sequence[Count]) -> None:
    youngest, oldest = min(picked, key=_days), max(picked, key=_days)
    if _days(oldest) > LIKE_AGES * _days(youngest):
        raise NotComparableError(
            f"at '{outlet}', '{youngest.version}' was counted after {_days(youngest):.1f} days and"
            f" '{oldest.version}' after {_days(oldest):.1f}, and attention fades. Count both at the"
            " same age, or note how many people each reached."
        )


def _refuse_unlinked(showings: Sequence[Showing]) -> None:
    """Versions compare only within an outlet; they must be linked through outlets they share."""
    linked: list[set[str]] = []
    for outlet in {one.outlet for one in showings}:
        here = {one.version for one in showings if one.outlet == outlet}
        touching = [group for group in linked if group & here]
        linked = [group for group in linked if group not in touching]
        linked.append(here.union(*touching))
    if len(linked) > 1:
        first, second = sorted(linked, key=min)[:2]
        raise NotComparableError(
            f"{named(sorted(first))} and {named(sorted(second))} share no outlet: two audiences, so"
            " the places differ as much as the pictures. Run both at one outlet, or show both in"
            " one poll."
        )
