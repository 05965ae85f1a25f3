"""How long proposals take: fourteen destinations per master, finding excluded.

    python -m bench.proposing [--rounds 5]

Run from the top of the checkout. Each demo master's true points go in; proposals with measures,
sentences and, where nothing fits, conflicts come out. CPU is what to compare: the least of the
rounds, since neighbours on the machine can only add.
"""

from __future__ import annotations

import argparse
import time
from typing import Final

from cropper.destination.presets import load_presets
from cropper.proposal.planning import propose_all
from tests.oracle.truth import demo_findings

NAMES: Final = (
    "square-post",
    "tall-post",
    "story",
    "wide",
    "avatar",
    "profile-square",
    "page-header",
    "link-preview",
    "portfolio",
    "cover-a4",
    "spread-a4",
    "print-8x10",
    "print-13x18cm",
    "full-frame",
)
LIMIT_MS: Final = {1: 50, 5: 150}
"""Asked of one master with so many subjects."""


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m bench.proposing", description=__doc__)
    parser.add_argument("--rounds", type=int, default=5)
    rounds = parser.parse_args().rounds
    wanted = load_presets().choose(NAMES)
    print(f"{len(wanted)} destinations; CPU ms, least of {rounds} rounds")
    print(f"{'master':34}{'people':>7}{'crops':>7}{'CPU ms':>8}  asked")
    for name, finding in demo_findings().items():
        least = float("inf")
        for _ in range(rounds):
            started = time.process_time()
            answers = propose_all(finding, wanted)
            least = min(least, 1000 * (time.process_time() - started))
        people = len(finding.subjects)
        crops = sum(bool(answer.proposals) for answer in answers)
        limit = LIMIT_MS.get(people)
        asked = "" if limit is None else f"<= {limit}: {'met' if least <= limit else 'MISSED'}"
        print(f"{name:34}{people:7}{crops:7}{least:8.0f}  {asked}")


if __name__ == "__main__":
    main()
