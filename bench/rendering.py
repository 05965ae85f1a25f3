"""Fourteen deliverables from one wide-gamut master: this engine against the customary ways.

    python bench/rendering.py                   24 MP JPEG, three interleaved rounds
    python bench/rendering.py --megapixels 100 --kind tiff16 --rounds 1
    python bench/rendering.py --count 1 2 4 8 16 32     how the cost grows with the outputs

Every way makes the same boxes at the same sizes, converts to sRGB, sharpens, and encodes JPEG at
quality 90, 4:4:4, profile embedded. Each run is a process of its own, so that peak memory is its
own; CPU and wall start after the imports. The rounds are interleaved; medians are shown. CPU is
what to compare: wall swings with what else the machine does.
"""

from __future__ import annotations

import argparse
import importlib
import json
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np

SIZES = [
    (5031, 3579),
    (2551, 3579),
    (2400, 3000),
    (1500, 2100),
    (1800, 1200),
    (1080, 1080),
    (1080, 1350),
    (1080, 1920),
    (1920, 1080),
    (1800, 600),
    (1200, 630),
    (400, 400),
    (2560, 1707),
    (1600, 1067),
]
"""Spread, cover, prints, posts, headers, avatar and full frames of the shipped destinations."""

SHARES = [1.0, 1.0, 1.0, 1.0, 1.0, 0.5, 1.0, 1.0, 1.0, 1.0, 1.0, 0.6, 1.0, 1.0]
"""How much of the largest possible box each takes."""


def boxes(width: int, height: int, count: int) -> list[tuple[tuple[int, int, int, int], Any]]:
    """(x0, y0, x1, y1) and delivered size, centred, of each size's shape."""
    asked = []
    for index in range(count):
        (w, h), share = SIZES[index % len(SIZES)], SHARES[index % len(SIZES)]
        scale = min(width / w, height / h) * share
        bw, bh = round(w * scale), round(h * scale)
        x0, y0 = (width - bw) // 2, (height - bh) // 2
        asked.append(((x0, y0, x0 + bw, y0 + bh), (w, h)))
    return asked


def made_master(folder: Path, megapixels: float, kind: str) -> Path:
    """A picture with soft forms, fine texture and grain, 3:2, in a wide gamut."""
    import pyvips

    from cropper.deliverable.spaces import SPACES

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


def ours(path: Path, count: int) -> Callable[[], int]:
    for engine in ("cykooz_resizer", "cv2", "PIL.ImageCms", "pyvips", "simplejpeg"):
        importlib.import_module(engine)
    from cropper.deliverable.delivering import Order, deliver_all
    from cropper.destination.destination import Destination, Finish, ShapeRange
    from cropper.geometry import Crop, PixelBox, Size
    from cropper.master.opening import open_master

    def run() -> int:
        master = open_master(path)
        orders = []
        for box, (w, h) in boxes(master.size.width, master.size.height, count):
            destination = Destination(
                name="bench",
                title="bench",
                shape=ShapeRange(Fraction(w, h), Fraction(w, h)),
                delivered=Size(w, h),
                greatest_enlargement=Fraction(4),
                finish=Finish(quality=90),
            )
            orders.append(Order(crop=Crop(PixelBox(*box)), destination=destination))
        return sum(len(done.data) for done in deliver_all(master, orders))

    return run


def _pillow_one(image: Any, box: Any, size: Any, profile: bytes) -> int:
    import io

    from PIL import Image, ImageCms, ImageFilter

    part = image.crop(box).resize(size, Image.Resampling.LANCZOS)
    part = ImageCms.profileToProfile(
        part, ImageCms.ImageCmsProfile(io.BytesIO(profile)), ImageCms.createProfile("sRGB")
    )
    part = part.filter(ImageFilter.UnsharpMask(radius=0.6, percent=65, threshold=2))
    file = io.BytesIO()
    part.save(file, "JPEG", quality=90, subsampling=0, icc_profile=part.info.get("icc_profile"))
    return len(file.getvalue())


def pillow(path: Path, count: int, *, once: bool) -> Callable[[], int]:
    from PIL import Image, ImageCms, ImageFilter  # noqa: F401

    Image.MAX_IMAGE_PIXELS = None

    def run() -> int:
        image = Image.open(path)
        asked = boxes(*image.size, count)
        total = 0
        for box, size in asked:
            if not once:
                image = Image.open(path)
            total += _pillow_one(image, box, size, image.info["icc_profile"])
        return total

    return run


def vips(path: Path, count: int) -> Callable[[], int]:
    import pyvips

    def run() -> int:
        head = pyvips.Image.new_from_file(str(path))
        total = 0
        for (x0, y0, x1, y1), (w, h) in boxes(head.width, head.height, count):
            image = pyvips.Image.new_from_file(str(path))
            part = image.crop(x0, y0, x1 - x0, y1 - y0)
            part = part.resize(w / part.width, vscale=h / part.height, kernel="lanczos3")
            part = part.icc_transform("srgb", embedded=True).sharpen(sigma=0.6)
            part = part.cast("uchar").copy(interpretation="srgb")
            total += len(part.jpegsave_buffer(Q=90, subsample_mode="off"))
        return total

    return run


def floor(path: Path, count: int) -> Callable[[], int]:
    import io
    from concurrent.futures import ThreadPoolExecutor

    from PIL import Image

    Image.MAX_IMAGE_PIXELS = None

    import pyvips

    size = Image.open(path).size
    ready = [
        Image.open(path).convert("RGB").crop(box).resize(wanted)
        for box, wanted in boxes(*size, count)
    ]

    def one(picture: Any) -> int:
        file = io.BytesIO()
        picture.save(file, "JPEG", quality=90, subsampling=0)
        return len(file.getvalue())

    def run() -> int:
        pyvips.Image.new_from_file(str(path), access="sequential").numpy()
        with ThreadPoolExecutor(2) as pool:
            return sum(pool.map(one, ready))

    return run


WAYS: dict[str, Callable[[Path, int], Callable[[], int]]] = {
    "codec floor": floor,
    "this engine": ours,
    "Pillow, naive": lambda path, count: pillow(path, count, once=False),
    "Pillow, decoded once": lambda path, count: pillow(path, count, once=True),
    "libvips per output": vips,
}


def measured(way: str, path: Path, count: int) -> None:
    """One run in this process, printed as JSON."""
    run = WAYS[way](path, count)
    cpu, wall = time.process_time(), time.perf_counter()
    size = run()
    spent = {"cpu": time.process_time() - cpu, "wall": time.perf_counter() - wall, "bytes": size}
    spent["peak"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(json.dumps(spent))


def child(way: str, path: Path, count: int) -> dict[str, float]:
    """The same in a fresh process."""
    command = [sys.executable, __file__, "--way", way, "--master", str(path), "--count", str(count)]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    spent: dict[str, float] = json.loads(done.stdout.splitlines()[-1])
    return spent


def table(path: Path, counts: list[int], rounds: int, ways: list[str]) -> None:
    """Interleaved rounds; medians; CPU against naive Pillow where that was run."""
    for count in counts:
        runs: dict[str, list[dict[str, float]]] = {way: [] for way in ways}
        for _ in range(rounds):
            for way in ways:
                runs[way].append(child(way, path, count))
        print(f"\n{count} deliverables, median of {rounds}")
        print(f"{'way':24}{'CPU s':>8}{'wall s':>8}{'peak MB':>9}{'of naive':>10}{'of floor':>10}")
        middle = {
            way: {key: statistics.median(run[key] for run in done) for key in done[0]}
            for way, done in runs.items()
        }
        for way, spent in middle.items():
            of = {
                name: f"{spent['cpu'] / middle[name]['cpu']:.2f}" if name in middle else "-"
                for name in ("Pillow, naive", "codec floor")
            }
            print(
                f"{way:24}{spent['cpu']:8.2f}{spent['wall']:8.2f}{spent['peak']:9.0f}"
                f"{of['Pillow, naive']:>10}{of['codec floor']:>10}"
            )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--megapixels", type=float, default=24)
    parser.add_argument("--kind", choices=["jpeg", "tiff16"], default="jpeg")
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--count", type=int, nargs="+", default=[14])
    parser.add_argument("--ways", nargs="+", default=list(WAYS), choices=list(WAYS))
    parser.add_argument("--way", choices=list(WAYS), help="measure one way in this process")
    parser.add_argument("--master", type=Path, help="use this picture instead of a made one")
    asked = parser.parse_args()
    if asked.way:
        measured(asked.way, asked.master, asked.count[0])
        return
    with tempfile.TemporaryDirectory() as folder:
        path = asked.master or made_master(Path(folder), asked.megapixels, asked.kind)
        table(path, asked.count, asked.rounds, asked.ways)


if __name__ == "__main__":
    main()
