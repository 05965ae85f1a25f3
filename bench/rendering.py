"""Fourteen deliverables from one wide-gamut master: this engine against the customary ways.

    python -m bench.rendering                   24 MP JPEG, three interleaved rounds
    python -m bench.rendering --megapixels 100 --rounds 1
    python -m bench.rendering --kind tiff16 --ways "this engine" "libvips per output"
    python -m bench.rendering --ways "this engine" --count 1 2 4 8 16 32     growth with the outputs
    python -m bench.rendering --ways "this engine" --megapixels 12 24 50 100     with the master
    python -m bench.rendering --profile         where this engine's time goes

Every way makes the same boxes at the same sizes, converts to sRGB, sharpens, and encodes JPEG at
quality 90, 4:4:4, profile embedded. Each run is a process of its own, so that peak memory is its
own; CPU and wall start after the imports. The rounds are interleaved; medians are shown. CPU is
what to compare: wall swings with what else the machine does.
"""

from __future__ import annotations

import argparse
import cProfile
import json
import os
import pstats
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from bench.rendering_ways import WAYS, Spent, missing, orders, ours

NAIVE, FLOOR, SHARP, VIPS = (
    "Pillow, naive",
    "codec floor",
    "sharp, one by one",
    "libvips per output",
)
"""What the ratios are taken against."""


def made_master(folder: Path, megapixels: float, kind: str) -> Path:
    """A picture with soft forms, fine texture and grain, 3:2, in a wide gamut."""
    import pyvips

    from cropper.master.spaces import SPACES

    height = round((megapixels * 1e6 / 1.5) ** 0.5 / 16) * 16
    width = height * 3 // 2
    rng = np.random.default_rng(7)
    image = None
    for cells, strength in ((6, 70), (40, 40), (300, 22), (1500, 12)):
        grid = (rng.random((cells, cells * 3 // 2, 3)) * strength).astype(np.float32)
        octave = pyvips.Image.new_from_array(grid).resize(
            width / grid.shape[1], vscale=height / cells, kernel="cubic"
        )
        octave = octave.crop(0, 0, min(width, octave.width), min(height, octave.height))
        octave = octave.embed(0, 0, width, height, extend="copy")
        image = octave if image is None else image + octave
    assert image is not None
    grain = pyvips.Image.gaussnoise(width, height, sigma=1.5)
    image = image + grain + 40
    path = folder / ("master.jpg" if kind == "jpeg" else "master.tif")
    profile = SPACES["oprgb"].profile
    if kind == "jpeg":
        image = image.cast("uchar").copy(interpretation="srgb").copy_memory()
        image.set_type(pyvips.GValue.blob_type, "icc-profile-data", profile)
        image.jpegsave(str(path), Q=92, subsample_mode="off")
    else:
        image = (image * 257).cast("ushort").copy(interpretation="rgb16").copy_memory()
        image.set_type(pyvips.GValue.blob_type, "icc-profile-data", profile)
        image.tiffsave(str(path), compression="deflate", predictor="horizontal")
    return path


def measured(way: str, path: Path, count: int) -> None:
    """One run in this process, printed as JSON."""
    run = WAYS[way](path, count)
    cpu, wall = time.process_time(), time.perf_counter()
    made = run()
    spent: Spent = made if isinstance(made, dict) else {"bytes": made}
    spent.setdefault("cpu", time.process_time() - cpu)
    spent.setdefault("wall", time.perf_counter() - wall)
    spent.setdefault("peak", resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
    print(json.dumps(spent))


def child(way: str, path: Path, count: int) -> Spent | str:
    """The same in a fresh process; a sentence when this way cannot do it."""
    if missing(way):
        return missing(way)
    command = [sys.executable, "-m", "bench.rendering", "--way", way, "--master", str(path)]
    done = subprocess.run(
        [*command, "--count", str(count)], capture_output=True, text=True, check=False
    )
    if done.returncode:
        return f"failed: {(done.stderr.strip() or 'no word').splitlines()[-1][:60]}"
    spent: Spent = json.loads(done.stdout.splitlines()[-1])
    return spent


def table(path: Path, count: int, rounds: int, ways: list[str]) -> None:
    """Interleaved rounds; medians; CPU against each of the ways that the goals name."""
    runs: dict[str, list[Spent]] = {way: [] for way in ways}
    said: dict[str, str] = {}
    for _ in range(rounds):
        for way in ways:
            done = child(way, path, count)
            if isinstance(done, str):
                said[way] = done
            else:
                runs[way].append(done)
    middle = {
        way: {key: statistics.median(run[key] for run in done) for key in done[0]}
        for way, done in runs.items()
        if done
    }
    against = (NAIVE, SHARP, FLOOR, VIPS)
    titles = "".join(f"{'of ' + name.split(',')[0].split()[0]:>11}" for name in against)
    print(f"\n{count} deliverables, median of {rounds}; load {os.getloadavg()[0]:.1f}")
    print(f"{'way':22}{'CPU s':>8}{'wall s':>8}{'peak MB':>9}{titles}")
    for way in ways:
        if way not in middle:
            print(f"{way:22}  {said[way]}")
            continue
        spent = middle[way]
        ratios = "".join(
            f"{spent['cpu'] / middle[name]['cpu']:11.2f}" if name in middle else f"{'-':>11}"
            for name in against
        )
        print(f"{way:22}{spent['cpu']:8.2f}{spent['wall']:8.2f}{spent['peak']:9.0f}{ratios}")


def profiled(path: Path, count: int) -> None:
    """Where this engine's time goes, one output after the other, by each function's own time."""
    from cropper.deliverable.encoding import encoded
    from cropper.deliverable.rendering import Darkroom
    from cropper.master.opening import open_master

    ours(path, 1)()  # engines loaded, tables built
    with cProfile.Profile(time.process_time) as profile:
        room = Darkroom(open_master(path))
        for order in orders(room.master.size, count):
            rendered = room.render(order.crop, order.destination)
            encoded(rendered, order.destination.finish, order.words)
    pstats.Stats(profile).sort_stats("tottime").print_stats(18)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--megapixels", type=float, nargs="+", default=[24])
    parser.add_argument("--kind", choices=["jpeg", "tiff16"], default="jpeg")
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--count", type=int, nargs="+", default=[14])
    parser.add_argument("--ways", nargs="+", default=list(WAYS), choices=list(WAYS))
    parser.add_argument("--way", choices=list(WAYS), help="measure one way in this process")
    parser.add_argument("--master", type=Path, help="use this picture instead of a made one")
    parser.add_argument("--profile", action="store_true", help="where this engine's time goes")
    asked = parser.parse_args()
    if asked.way:
        measured(asked.way, asked.master, asked.count[0])
        return
    with tempfile.TemporaryDirectory() as folder:
        for megapixels in asked.megapixels:
            path = asked.master or made_master(Path(folder), megapixels, asked.kind)
            print(f"\n{asked.master or f'{megapixels:g} MP {asked.kind}'}")
            if asked.profile:
                profiled(path, asked.count[0])
                continue
            for count in asked.count:
                table(path, count, asked.rounds, asked.ways)


if __name__ == "__main__":
    main()
