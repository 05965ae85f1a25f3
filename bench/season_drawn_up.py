"""How long a season takes to draw up, and how near the best it is: invented versions and outlets.

``python -m bench.season_drawn_up [SECONDS]``: 60 versions in sets of four, 12 outlets, 13 weeks,
three posting days a week, spots for two pictures that stay a fortnight, exclusives here and there.
CPU seconds of the whole process are told beside the wall's, for a machine that is shared.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from time import monotonic, process_time

from cropper.publication.clashes import all_clashes
from cropper.publication.dates import midnight
from cropper.publication.facts import Facts
from cropper.publication.licences import Licence, LicenceKind
from cropper.publication.outlets import Outlet, OutletKind
from cropper.publication.runs import Piece, SetRules
from cropper.publication.season import Habit, Request, Wanted, propose
from cropper.publication.spans import Span

START = date(2027, 1, 4)
AUDIENCES = (
    {"followers"},
    {"followers"},
    {"followers", "clients"},
    {"buyers"},
    {"buyers"},
    {"readers"},
    {"readers", "buyers"},
    {"staff"},
    {"visitors"},
    {"visitors"},
    {"clients"},
    {"press"},
)


def world(versions: int = 60, per_set: int = 4) -> tuple[tuple[Piece, ...], Facts]:
    """Invented pieces, outlets, sets and exclusives."""
    outlets = {
        f"o{at}": Outlet(
            name=f"o{at}",
            kind=OutletKind.PLACED if at % 2 else OutletKind.STREAM,
            audience=frozenset(groups),
            window_days=7,
        )
        for at, groups in enumerate(AUDIENCES)
    }
    pieces = tuple(
        Piece(
            sha256=f"{at}",
            file=f"v{at}.jpg",
            version=f"v{at}",
            destination="square-post",
            master_sha256=f"m{at}",
            set=f"set{at // per_set}",
        )
        for at in range(versions)
    )
    names = range(versions // per_set)
    sets = {
        f"set{at}": SetRules(
            name=f"set{at}",
            versions=tuple(f"v{one}" for one in range(at * per_set, (at + 1) * per_set)),
            rest_days=3,
        )
        for at in names
    }
    weeks = [midnight(START + timedelta(weeks=one), "UTC") for one in (2, 6)]
    deals = tuple(
        Licence(
            id=f"deal{at}",
            kind=LicenceKind.EXCLUSIVE,
            span=Span(*weeks),
            outlet="o1",
            set=f"set{at}",
        )
        for at in names[::5]
    )
    return pieces, Facts(outlets=outlets, pieces=pieces, sets=sets, licences=deals)


def main(seconds: float) -> None:
    """Draw one up, and tell."""
    pieces, facts = world()
    posts = Habit(days=frozenset({0, 2, 4}), per_week=3)
    spots = Habit(days=frozenset({0}), stays_days=14, at_once=2)
    request = Request(
        start=START,
        weeks=13,
        wanted=tuple(
            Wanted(piece=piece, outlet=name, suits=1 + (at * 7 + number * 3) % 3)
            for at, piece in enumerate(pieces)
            for number, name in enumerate(facts.outlets)
        ),
        now=datetime(2027, 1, 1, tzinfo=UTC),
        habits={
            name: posts if one.kind is OutletKind.STREAM else spots
            for name, one in facts.outlets.items()
        },
        seconds=seconds,
    )
    wall, spent = monotonic(), process_time()
    season = propose(request, facts)
    wall, spent = monotonic() - wall, process_time() - spent
    clashing = sum(1 for _ in all_clashes(replace(facts, runs=season.runs)))
    shown = len({one.version for one in season.runs})
    print(f"{wall:.1f} s ({spent:.1f} CPU s): {len(season.runs)} runs, {shown} of 60 versions,")
    print(f"{clashing} clashes, {len(season.not_placed)} without a day, gap {season.gap:.1%}")


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 8.0)
