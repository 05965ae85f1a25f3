"""The credit line of one destination: by a pattern, or role by role."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import Final

from cropper.job.job_words import ROLE_LABELS, Credit, Manner

PIECE: Final = re.compile(r"\[([^\[\]]*)\]|([^\[\]]+)")
"""A part that may go, or one that stays."""
STRAY: Final = " /|,;\N{MIDDLE DOT}\N{BULLET}\N{EN DASH}\N{EM DASH}-"
"""What may be left at an end of the line when a part has gone."""
PLACE: Final = re.compile(r"\{([^{}]*)\}")


def credit_line(credits_: Sequence[Credit], manner: Manner) -> str:
    """The line, uncut; withheld names are not in it.

    >>> makeup = Credit(role="makeup", name="Tove Lindqvist-Hale", short="T. Lindqvist-Hale")
    >>> credit_line([makeup], Manner(destination="story", short=True))
    'Make-up: T. Lindqvist-Hale'
    """
    names = _names(credits_, short=manner.short)
    if manner.pattern:
        return "".join(_filled(manner.pattern, names)).strip(STRAY)
    roles = manner.roles or tuple(names)
    return manner.between.join(f"{label(role)}: {names[role]}" for role in roles if role in names)


def roles_in(pattern: str) -> tuple[str, ...]:
    """The roles a pattern names.

    >>> roles_in("Photo {photographer}[ / {makeup}]")
    ('photographer', 'makeup')
    """
    return tuple(match.strip() for match in PLACE.findall(pattern))


def flaw(pattern: str) -> str | None:
    """What is wrong with the brackets of a pattern; None when they are right."""
    rest = PIECE.sub(lambda match: match[1] if match[1] is not None else match[2], pattern)
    if "[" in rest or "]" in rest:
        return "has a [ or ] without its other half, or one inside another"
    if re.search(r"[{}]", PLACE.sub("", rest)):
        return "has a { or } without its other half"
    return None


def label(role: str) -> str:
    """What stands before the names."""
    return ROLE_LABELS.get(role, role[:1].upper() + role[1:])


def _names(credits_: Sequence[Credit], *, short: bool) -> dict[str, str]:
    """Role to its names, in the order of the credits, without those withheld."""
    found: dict[str, list[str]] = {}
    for one in credits_:
        if not one.withheld:
            found.setdefault(one.role, []).append(one.shown(short=short))
    return {role: ", ".join(names) for role, names in found.items()}


def _filled(pattern: str, names: dict[str, str]) -> Iterator[str]:
    for match in PIECE.finditer(pattern):
        may_go, stays = match[1], match[2]
        piece = stays if may_go is None else may_go
        if may_go is not None and not all(role in names for role in roles_in(piece)):
            continue
        yield PLACE.sub(lambda place: names.get(place[1].strip(), ""), piece)
