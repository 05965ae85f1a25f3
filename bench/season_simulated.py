"""A season of 100,000 masters, simulated from measured costs: ``python -m bench.season_simulated``.

Each master costs what one was measured to cost, times a size drawn from a spread of sizes
(log-normal, sigma 0.35: a house guess at a shoot of mixed cameras). Workers take the largest of
the next 32, as the program does. The one run that writes things down is a queue of its own: what
it costs a master bounds how many workers can be kept busy. No network is simulated.
"""

from __future__ import annotations

import argparse
import heapq
import random
from collections.abc import Iterator

from cropper.batch.work import largest_first

PLAN_CPU_S = 0.78
"""CPU seconds a 16 MP master took for 12 destinations (four masters less one, divided by three)."""
EXPORT_CPU_S = 3.6
"""The same for its 11 files."""
NOTE_S = 0.0026
"""What writing down one master took: 10,000 in 26 s, each flushed to the disk."""
SIGMA = 0.35


def sizes(count: int, seed: int) -> Iterator[float]:
    """Relative sizes with a mean of 1."""
    dice = random.Random(seed)  # noqa: S311 - a simulation
    for _ in range(count):
        yield dice.lognormvariate(-SIGMA * SIGMA / 2, SIGMA)


def spent(count: int, workers: int, each_s: float, seed: int = 1) -> float:
    """Seconds until the last of ``count`` masters is written down."""
    free = [0.0] * workers
    written = 0.0
    for size in largest_first(sizes(count, seed), weight=lambda one: int(one * 1e6)):
        done = heapq.heappop(free) + size * each_s
        heapq.heappush(free, done)
        written = max(written, done) + NOTE_S
    return written


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--masters", type=int, default=100_000)
    count = parser.parse_args().masters
    print(f"{count} masters: workers, hours to plan, hours to export, share of perfect scaling")
    alone = spent(count, 1, PLAN_CPU_S + EXPORT_CPU_S)
    for workers in (1, 2, 8, 32, 128, 512):
        plan, export = (spent(count, workers, each) for each in (PLAN_CPU_S, EXPORT_CPU_S))
        share = alone / (plan + export) / workers
        print(f"{workers:6} {plan / 3600:8.2f} {export / 3600:8.2f} {share:8.0%}")


if __name__ == "__main__":
    main()
