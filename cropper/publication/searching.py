"""The exact search for an assignment: dynamic programming over companies and used versions.

Companies are taken one after the other. A state is what later companies must know of earlier ones:
which versions are used, and which of them an exclusive outlet keeps. For each state only the
cheapest way into it is kept; equal ways go to the options named first, so that ties are decided
by name and never by chance.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from cropper.errors import MisuseError
from cropper.publication.companies import Option, Terms, Weight

MOST_VERSIONS: Final = 10
"""House limit where sets of used versions must be told apart: 2^10 sets take about two seconds."""


@dataclass(frozen=True, slots=True, order=True)
class _Path:
    """The cheapest way into a state: its cost, then the indices of the options taken."""

    cost: Weight
    taken: tuple[int, ...]


_State = tuple[int, int, bool]
"""Versions used (bits), versions kept by an exclusive outlet (bits), unlike the best one."""


class Search:
    """Dynamic programming: company by company, the cheapest path into every state."""

    def __init__(
        self, choices: Sequence[Sequence[Option]], terms: Terms, *, use_every_version: bool
    ) -> None:
        self.choices = choices
        self.terms = terms
        self.every = use_every_version
        self.keeping = any(option.kept_by for group in choices for option in group)
        self.bits = {version: 1 << at for at, version in enumerate(terms.versions)}
        if (self.every or self.keeping) and len(self.bits) > MOST_VERSIONS:
            raise MisuseError(
                f"{len(self.bits)} versions are too many to be told apart in one set",
                way_out=f"Make sets of at most {MOST_VERSIONS} versions",
            )

    def best(self, *, unlike: Sequence[Option] | None = None) -> tuple[Option, ...] | None:
        """The cheapest choice of options; with ``unlike``, showing another version somewhere."""
        start: _State = (0, 0, unlike is None)
        paths = {start: _Path((0, 0), ())}
        for at, group in enumerate(self.choices):
            taken = unlike[at] if unlike is not None else None
            paths = self._after(paths, group, taken)
        whole = (1 << len(self.bits)) - 1
        ends = [
            path
            for (used, _, differs), path in paths.items()
            if differs and (not self.every or used == whole)
        ]
        if not ends:
            return None
        return tuple(
            group[index] for group, index in zip(self.choices, min(ends).taken, strict=True)
        )

    def _after(
        self,
        paths: Mapping[_State, _Path],
        group: Sequence[Option],
        best: Option | None,
    ) -> dict[_State, _Path]:
        after: dict[_State, _Path] = {}
        for state, path in paths.items():
            for index, option in enumerate(group):
                reached = self._step(state, option, differs=_shows_another(option, best))
                if reached is None:
                    continue
                added = path.cost[0] + option.cost[0], path.cost[1] + option.cost[1]
                candidate = _Path(added, (*path.taken, index))
                if reached not in after or candidate < after[reached]:
                    after[reached] = candidate
        return after

    def _step(self, state: _State, option: Option, *, differs: bool) -> _State | None:
        """The state after taking an option; None when an exclusive forbids it."""
        used, kept, unlike = state
        bit = self.bits[option.version] if option.version is not None else 0
        if bit & (used if option.kept_by else kept):
            return None
        if self.every or self.keeping:
            used |= bit
        if option.kept_by:
            kept |= bit
        return (used, kept, unlike or differs)


def _shows_another(option: Option, best: Option | None) -> bool:
    """Whether some destination shows a version here that it does not show in ``best``."""
    if best is None or option.version is None:
        return False
    return bool(option.shown if option.version != best.version else option.shown - best.shown)
