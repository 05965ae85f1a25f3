"""How long a record of 100,000 runs lets a photographer wait.

    python -m bench.record                      100,000 runs in SQLite, each question 25 times
    python -m bench.record --runs 1000000       takes a table of a million rows in, too
    python -m bench.record --at postgresql://... the same in a shared database

Invented runs: sets of two rivals, 40 outlets with overlapping audiences, twelve years of starts.
The table of runs is taken in as CSV, every row checked against what came before; the peak memory
is this process's own.
"""

from __future__ import annotations

import argparse
import resource
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random

from cropper.publication.facts import Asked
from cropper.publication.outlets import Outlet, OutletKind
from cropper.publication.runs import Run, SetRules
from cropper.publication.spans import Span
from cropper.publication.whereabouts import free_to_use, running
from cropper.record import Record, Stamp, open_record
from cropper.record.exchange import COLUMNS, take_runs

DAY0 = datetime(2014, 1, 1, tzinfo=UTC)
OUTLETS = 40
GROUPS = 12
ASKED = 25


def outlets() -> list[Outlet]:
    return [
        Outlet(
            name=f"outlet-{number:02}",
            kind=OutletKind.STREAM if number % 3 else OutletKind.PLACED,
            audience=frozenset({f"group-{number % GROUPS}", f"group-{(number * 7) % GROUPS}"}),
        )
        for number in range(OUTLETS)
    ]


def rows(runs: int) -> Iterator[str]:
    """Each set's rivals take turns: no clash, but many near ones."""
    rng = Random(7)  # noqa: S311 - repeatable, not secret
    yield ",".join(COLUMNS) + "\r\n"
    for number in range(runs):
        idea, rival = divmod(number, 2)
        start = DAY0 + timedelta(days=rng.randrange(4300) + 200 * rival)
        until = start + timedelta(days=rng.randrange(1, 60))
        cells = {
            "run": f"r{number}",
            "piece": f"{number:064x}",
            "version": f"idea-{idea}-{'ab'[rival]}",
            "set": f"idea-{idea}",
            "outlet": f"outlet-{rng.randrange(OUTLETS):02}",
            "from": start.isoformat(),
            "until": until.isoformat(),
        }
        yield ",".join(cells.get(name, "") for name in COLUMNS) + "\r\n"


def questions(record: Record, runs: int) -> dict[str, Callable[[int], object]]:
    """What people ask, each of another run, day or outlet every time."""

    def trial(turn: int) -> Run:
        idea = (turn * 977) % (runs // 2)
        start = DAY0 + timedelta(days=(turn * 131) % 4300)
        return Run(
            id="new",
            piece="",
            version=f"idea-{idea}-a",
            set=f"idea-{idea}",
            outlet=f"outlet-{turn % OUTLETS:02}",
            span=Span(start, start + timedelta(days=20)),
        )

    def on(turn: int) -> datetime:
        return DAY0 + timedelta(days=(turn * 173) % 4300)

    def a_day(turn: int) -> object:
        span = Span(on(turn), on(turn) + timedelta(microseconds=1))
        return running(record.facts(Asked(span=span)), on(turn))

    def a_month(turn: int) -> object:
        span = Span(on(turn), on(turn) + timedelta(days=30))
        return record.facts(Asked(outlets=(f"outlet-{turn % OUTLETS:02}",), span=span))

    def a_set(turn: int) -> object:
        return record.facts(Asked(sets=(f"idea-{(turn * 977) % (runs // 2)}",)))

    def free(turn: int) -> object:
        return free_to_use(a_set(turn), on(turn))  # type: ignore[arg-type]

    return {
        "may this run there, then?": lambda turn: record.may(trial(turn)),
        "what runs on a day?": a_day,
        "what ran at one outlet in a month?": a_month,
        "everything about one set": a_set,
        "where is a set free to run?": free,
        "the history of one run": lambda turn: list(record.history(f"r{turn * 31}")),
        "which piece is this file?": lambda turn: record.piece(f"{turn:064x}"),
        "record a run": lambda turn: record.record_run(
            Run(
                id=f"new-{turn}-{time.time_ns()}",
                piece="",
                version=f"alone-{turn}",
                outlet="outlet-01",
                span=Span(on(turn)),
            ),
            Stamp(at=datetime.now(UTC)),
        ),
    }


def timed(ask: Callable[[int], object]) -> list[float]:
    spent = []
    for turn in range(ASKED):
        begun = time.perf_counter()
        ask(turn)
        spent.append((time.perf_counter() - begun) * 1000)
    return sorted(spent)


def seats(address: str) -> float:
    """Two seats record at once, 50 runs each: milliseconds a run."""

    def seat(name: str) -> None:
        with open_record(address) as record:
            for turn in range(50):
                record.record_run(
                    Run(
                        id=f"{name}-{turn}",
                        piece="",
                        version=f"{name}-{turn}",
                        outlet="outlet-02",
                        span=Span(DAY0),
                    ),
                    Stamp(at=datetime.now(UTC)),
                )

    begun = time.perf_counter()
    with ThreadPoolExecutor(2) as pool:
        list(pool.map(seat, ("left", "right")))
    return (time.perf_counter() - begun) * 10


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--runs", type=int, default=100_000)
    parser.add_argument("--at", help="an address instead of a SQLite file made for this")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        address = asked.at or str(Path(folder) / "record.sqlite")
        with open_record(address) as record:
            stamp = Stamp(at=datetime.now(UTC))
            record.keep_outlets(outlets(), stamp)
            record.keep_set(SetRules(name="idea-0", versions=(), rest_days=7), stamp)
            begun = time.perf_counter()
            taken = take_runs(record, rows(asked.runs), stamp)
            spent = time.perf_counter() - begun
            peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
            print(
                f"{taken.kept} runs taken in ({taken.clashing} clashed, {taken.faulty} faulty)"
                f" in {spent:.0f} s, {asked.runs / spent:.0f} a second, peak {peak:.0f} MB"
            )
            print(f"{'question':36}{'median ms':>10}{'worst ms':>10}")
            for name, ask in questions(record, asked.runs).items():
                spent_ms = timed(ask)
                print(f"{name:36}{statistics.median(spent_ms):10.1f}{spent_ms[-1]:10.1f}")
        print(f"{'two seats at once, each run':36}{seats(address):10.1f}")


if __name__ == "__main__":
    main()
