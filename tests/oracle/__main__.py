"""Many scenes on demand: ``python -m tests.oracle --scenes 10000 --first 0``.

Prints how many scenes were held against brute force, how many had a crop, how many boxes were
tried, and every gap with its seed. Ends with 1 if there was one.
"""

from __future__ import annotations

import argparse
import sys
import time

from tests.oracle.gaps import Held, hold_all, told


def report(results: list[Held], seconds: float) -> str:
    """The whole run in a few lines."""
    wrong = [one for one in results if one.faults]
    boxes = sum(one.tried for one in results)
    lines = [
        f"{len(results)} scenes, {boxes:,} boxes tried, {seconds:.0f} s",
        f"a crop exists in {sum(one.crop for one in results)}, in the others none does",
        f"scenes with a gap or a fault: {len(wrong)}",
    ]
    return "\n".join([*lines, told(wrong)] if wrong else lines)


def main() -> int:
    """Run as asked on the command line."""
    parser = argparse.ArgumentParser(prog="python -m tests.oracle", description=__doc__)
    parser.add_argument("--scenes", type=int, default=10_000)
    parser.add_argument("--first", type=int, default=0, help="first seed")
    parser.add_argument("--least", type=int, default=24, help="least side of a master, px")
    parser.add_argument("--most", type=int, default=64, help="greatest side of a master, px")
    asked = parser.parse_args()
    started = time.perf_counter()
    seeds = range(asked.first, asked.first + asked.scenes)
    results = []
    for one in hold_all(seeds, least=asked.least, most=asked.most):
        results.append(one)
        if len(results) % 1000 == 0:
            print(f"{len(results)} scenes held", file=sys.stderr)  # noqa: T201
    print(report(results, time.perf_counter() - started))  # noqa: T201
    return int(any(one.faults for one in results))


if __name__ == "__main__":
    sys.exit(main())
