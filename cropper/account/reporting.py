"""Gather one set's report from the record and, for its pictures, from a job folder."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from cropper.account.report import Report, ran, zones
from cropper.account.report_pictures import portraits
from cropper.account.tallying import Keeper, told
from cropper.errors import MisuseError
from cropper.publication.facts import Asked, Facts
from cropper.publication.responses import Responses
from cropper.publication.tags import TagList


def report(
    keeper: Keeper,
    set_name: str,
    *,
    job: Path | None,
    tags: TagList | None,
    now: datetime,
    invented: bool = False,
) -> Report:
    """The report as of ``now``; raises :class:`MisuseError` for a set nobody recorded.

    ``invented`` marks it as made of invented data, which a demo is.
    """
    facts = keeper.facts(Asked(sets=(set_name,)))
    kept = keeper.responses(set_name)
    versions = _versions(set_name, facts, kept)
    if not versions:
        raise MisuseError(
            f"the record knows no set '{set_name}'",
            way_out="Take in its job (cropper record job DIR), or ask (cropper feedback ask)",
        )
    return Report(
        set=set_name,
        dated=f"as of {now.day} {now:%B %Y, %H:%M} UTC{zones(facts)}",
        portraits=portraits(versions, job),
        runs=ran(facts, versions, set_name),
        asked=told(keeper, set_name, tags=tags, now=now),
        invented=invented,
    )


def _versions(set_name: str, facts: Facts, kept: Responses) -> tuple[str, ...]:
    """The set's versions: as its rules list them, then as asked about, then as they ran."""
    rules = facts.sets.get(set_name)
    named = [
        *(rules.versions if rules else ()),
        *(version for one in kept.questions for version in one.versions),
        *(one.version for one in facts.pieces if one.set == set_name),
        *(one.version for one in facts.runs if one.set == set_name),
    ]
    return tuple(dict.fromkeys(named))
