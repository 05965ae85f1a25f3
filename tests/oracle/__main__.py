"""Many scenes on demand: ``python -m tests.oracle --scenes 10000 --first 0``.

To the small scenes come a twentieth as many on masters of 600 px and more. Prints how many scenes
were held against the least sum, what came of them, how many boxes were looked at, and every gap
with its seed. Ends with 1 if there was one.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from itertools import chain

from tests.oracle.gaps import End, Held, hold_all, told

LARGE_FROM = 600
"""A master is large from this longer side on, px."""


def report(results: list[Held], seconds: float) -> str:
    """The whole run in a few lines."""
    wrong = [one for one in results if one.faults]
    ends = Counter(one.end for one in results)
    large = [one for one in results if one.longer >= LARGE_FROM]
    compared = [one.gap for one in results if one.end is End.COMPARED]
    lines = [
        f"{len(results)} scenes, {len(large)} of them on masters of {LARGE_FROM} px and more",
        f"{sum(one.bounded for one in results):,} boxes ruled out or measured, {seconds:.0f} s",
        "one person {}, a group {}, nobody known {}".format(*_by_people(results)),
        *(f"{end.value}: {ends[end]}" for end in End),
        f"greatest gap: {max(compared, default=0.0):.6f} of the sum",
        f"searches that stopped early: {sum(one.cut_short for one in results)}",
        f"scenes with a gap or a fault: {len(wrong)}",
    ]
    return "\n".join([*lines, told(wrong)] if wrong else lines)


def _by_people(results: list[Held]) -> tuple[int, int, int]:
    """How many scenes are about one person, about several, about nobody known."""
    alone, nobody = (sum(one.people == count for one in results) for count in (1, 0))
    return alone, len(results) - alone - nobody, nobody


def main() -> int:
    """Run as asked on the command line."""
    parser = argparse.ArgumentParser(prog="python -m tests.oracle", description=__doc__)
    parser.add_argument("--scenes", type=int, default=10_000, help="small scenes")
    parser.add_argument("--large", type=int, help="large scenes (default: a twentieth as many)")
    parser.add_argument("--first", type=int, default=0, help="first seed")
    parser.add_argument("--least", type=int, default=24, help="least side of a small master, px")
    parser.add_argument("--most", type=int, default=64, help="greatest side of a small master, px")
    asked = parser.parse_args()
    large = asked.scenes // 20 if asked.large is None else asked.large
    started = time.perf_counter()
    results: list[Held] = []
    for one in chain(
        hold_all(
            range(asked.first, asked.first + asked.scenes), least=asked.least, most=asked.most
        ),
        hold_all(range(asked.first, asked.first + large), least=LARGE_FROM, most=900, ranges=False),
    ):
        results.append(one)
        if len(results) % 1000 == 0:
            print(f"{len(results)} scenes held", file=sys.stderr)  # noqa: T201
    print(report(results, time.perf_counter() - started))  # noqa: T201
    return int(any(one.faults for one in results))


if __name__ == "__main__":
    sys.exit(main())
