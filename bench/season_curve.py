"""What a long run keeps in memory, drawn: ``python -m bench.season_curve --masters 1000``.

Plans real pictures with two workers, then exports them, and samples the memory of the command and
its workers together (proportional set size: shared pages counted once) while they work. The plot
goes to ``docs/pictures/memory.svg``, the figures to the screen.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import tempfile
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from statistics import median

import matplotlib as mpl

from bench.season import CROPPER, family, pss_mb, shoot

mpl.use("svg")
PLOT = Path(__file__).parents[1] / "docs" / "pictures" / "memory.svg"
EVERY_S = 0.2
COPPER, WOOL = "#a4552a", "#5d6b74"


@dataclass(slots=True)
class Curve:
    """Samples of (things done, MB of memory) of a run."""

    label: str
    unit: str
    masters: int
    done: list[int] = field(default_factory=list)
    memory_mb: list[float] = field(default_factory=list)
    of: int = 0
    wall_s: float = 0.0
    cpu_s: float = 0.0

    @property
    def masters_done(self) -> list[float]:
        """The horizontal axis, in masters whatever was counted."""
        return [one * self.masters / max(1, self.of) for one in self.done]

    def told(self) -> str:
        """Peak, and medians of the second and the last fifth of the run."""
        fifth = max(1, len(self.memory_mb) // 5)
        early = median(self.memory_mb[fifth : 2 * fifth])
        late = median(self.memory_mb[-fifth:])
        return (
            f"{self.label}: {self.masters} masters, {self.of} {self.unit}, {self.wall_s:.0f} s, "
            f"{self.cpu_s / self.masters:.3f} CPU s a master; peak {max(self.memory_mb):.0f} MB, "
            f"second fifth {early:.0f} MB, last fifth {late:.0f} MB"
        )


def followed(label: str, unit: str, masters: int, words: list[str]) -> Curve:
    """Run a command with ``--json-lines`` and watch it."""
    curve, over, through = Curve(label, unit, masters), threading.Event(), 0
    before, began = os.times(), time.perf_counter()
    run = subprocess.Popen(
        [CROPPER, *words, "--json-lines"], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
    )

    def watch() -> None:
        while not over.wait(EVERY_S):
            curve.memory_mb.append(sum(pss_mb(pid) for pid in family(run.pid)))
            curve.done.append(through)

    watcher = threading.Thread(target=watch)
    watcher.start()
    for told in _events(run):
        through, curve.of = told["through"], max(curve.of, told["of"])
    run.wait()
    over.set()
    watcher.join()
    after = os.times()
    curve.wall_s = time.perf_counter() - began
    curve.cpu_s = after.children_user + after.children_system
    curve.cpu_s -= before.children_user + before.children_system
    return curve


def _events(run: subprocess.Popen[bytes]) -> Iterator[dict[str, int]]:
    assert run.stdout is not None
    for line in run.stdout:
        told = json.loads(line)
        if told["event"] == "through":
            yield told


def drawn(curves: list[Curve], path: Path) -> None:
    """Memory over masters done, one line a run."""
    from matplotlib import pyplot as plt

    mpl.rcParams["svg.hashsalt"] = "memory"
    figure, axes = plt.subplots(figsize=(7.2, 3.2), layout="constrained")
    for curve, colour in zip(curves, (COPPER, WOOL), strict=False):
        axes.plot(curve.masters_done, curve.memory_mb, color=colour, label=curve.label, lw=1.2)
    axes.set(xlabel="masters done", ylabel="memory of all three processes, MB", ylim=(0, None))
    axes.set_xlim(0, None)
    axes.spines[["top", "right"]].set_visible(False)
    axes.legend(frameon=False, loc="lower right")
    figure.savefig(path, metadata={"Date": None})


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--masters", type=int, default=1000)
    parser.add_argument("--plot", type=Path, default=PLOT)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        home = Path(place)
        folder, job = shoot(home / "shoot", asked.masters), ["--job", str(home / "job")]
        crew = ["--workers", "2"]
        words = ["plan", str(folder), "--for", "social", *job, *crew]
        curves = [followed("plan", "masters", asked.masters, words)]
        print(curves[0].told(), flush=True)
        curves.append(followed("export", "files", asked.masters, ["export", *job, *crew]))
        print(curves[1].told(), f"load {os.getloadavg()[0]:.1f}", flush=True)
    drawn(curves, asked.plot)


if __name__ == "__main__":
    main()
