"""``python -m tests.fuzz --inputs 12000``: hunt for long; finds are kept as files and named."""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path
from typing import TextIO

from tests.fuzz.corpus import CORPORA
from tests.fuzz.hunt import Hunt, hunt, inputs


def say(line: str, *, stream: TextIO = sys.stdout) -> None:
    """A line for whoever waits."""
    stream.write(f"{line}\n")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--inputs", type=int, default=12_000, help="over all targets")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--target", choices=sorted(CORPORA), action="append")
    parser.add_argument("--keep", type=Path, default=Path("fuzz-finds"))
    asked = parser.parse_args()
    targets = tuple(asked.target or CORPORA)
    begun = time.monotonic()

    def heard(number: int, went: Hunt) -> None:
        if number % 500 == 0:
            spent = time.monotonic() - begun
            say(f"{number} inputs, {len(went.finds)} finds, {spent:.0f} s", stream=sys.stderr)

    went = hunt(inputs(asked.inputs // len(targets), asked.seed, targets), heard)
    say(f"{'target':12}{'value':>8}{'refused':>9}{'broke':>7}{'hung':>6}{'crashed':>9}")
    for target in targets:
        counts = [
            went.answers[target, how] for how in ("value", "refused", "broke", "hung", "crashed")
        ]
        say(f"{target:12}{counts[0]:8}{counts[1]:9}{counts[2]:7}{counts[3]:6}{counts[4]:9}")
    for find in went.finds:
        say(f"{find.keep(asked.keep)}: {find.what.strip().splitlines()[-1]}")
    return 1 if went.finds else 0


if __name__ == "__main__":
    sys.exit(main())
