"""Bytes at equal quality: the encoder's options against a plain JPEG, by an outside metric.

    pip install ssimulacra2          an implementation of SSIMULACRA2, not among our dependencies
    python -m bench.file_sizes       four portraits of demo_images, 480 x 600 px, quality 90
    python -m bench.file_sizes --width 800

Each way is encoded at three qualities; the size at the score that the plain file has is read off
between them. CPU is of one encode, against the plain one in the same run.
"""

from __future__ import annotations

import argparse
import io
import tempfile
import time
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from PIL import Image

from cropper.deliverable.rendering import render
from cropper.destination.destination import Destination, Finish, ShapeRange
from cropper.geometry import Crop, PixelBox, Size
from cropper.master.opening import open_master

DEMO = Path(__file__).parents[1] / "demo_images"
PORTRAITS = (
    "fernhollow_a_master.jpg",
    "fernhollow_a_frontal.jpg",
    "fernhollow_g_beauty_closeup.jpg",
    "fernhollow_i_shawl_rival.jpg",
)
PLAIN: dict[str, Any] = {}
FITTED = {"optimize_coding": True}
COARSE_FIRST = {**FITTED, "interlace": True}
TRELLIS = {**COARSE_FIRST, "trellis_quant": True}
EVERYTHING = {**TRELLIS, "overshoot_deringing": True, "optimize_scans": True}
WAYS: dict[str, dict[str, Any]] = {
    "fitted tables": FITTED,
    "progressive": COARSE_FIRST,
    "trellis": TRELLIS,
    "trellis, deringing, scans": EVERYTHING,
    "the same, table 3": {**EVERYTHING, "quant_table": 3},
    "table 3, progressive": {**COARSE_FIRST, "quant_table": 3},
    "table 2, progressive": {**COARSE_FIRST, "quant_table": 2},
}
QUALITY = 90
TRIED = (84, 90, 95)

Pixels = npt.NDArray[Any]


def portrait(name: str, size: Size) -> Pixels:
    """The largest crop of ``size``'s shape, finished."""
    master = open_master(DEMO / name)
    scale = min(master.size.width / size.width, master.size.height / size.height)
    wide, high = int(size.width * scale), int(size.height * scale)
    x, y = (master.size.width - wide) // 2, (master.size.height - high) // 2
    shape = Fraction(size.width, size.height)
    destination = Destination(
        name="bench",
        title="bench",
        shape=ShapeRange(shape, shape),
        delivered=size,
        finish=Finish(quality=QUALITY),
    )
    return render(master, Crop(PixelBox(x, y, x + wide, y + high)), destination).pixels


def encoded(pixels: Pixels, quality: int, options: dict[str, Any]) -> bytes:
    import pyvips

    image = pyvips.Image.new_from_array(pixels, interpretation="srgb")
    return bytes(image.jpegsave_buffer(Q=quality, subsample_mode="off", keep="none", **options))


def cpu_of(pixels: Pixels, options: dict[str, Any]) -> float:
    begun = time.process_time()
    for _ in range(3):
        encoded(pixels, QUALITY, options)
    return (time.process_time() - begun) / 3


def metric(folder: Path) -> Callable[[Pixels, bytes], float]:
    """SSIMULACRA2 of a JPEG against its pixels; files, because the package reads files."""
    from ssimulacra2 import compute_ssimulacra2

    def score(pixels: Pixels, jpeg: bytes) -> float:
        before, after = folder / "before.png", folder / "after.png"
        Image.fromarray(pixels).save(before)
        Image.open(io.BytesIO(jpeg)).save(after)
        return float(compute_ssimulacra2(str(before), str(after)))

    return score


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--width", type=int, default=480)
    asked = parser.parse_args()
    size = Size(asked.width, asked.width * 5 // 4)
    pictures = [portrait(name, size) for name in PORTRAITS]
    with tempfile.TemporaryDirectory() as folder:
        score = metric(Path(folder))
        plain = [encoded(one, QUALITY, PLAIN) for one in pictures]
        wanted = [score(one, data) for one, data in zip(pictures, plain, strict=True)]
        usual = sum(cpu_of(one, PLAIN) for one in pictures)
        print(f"{size.width} x {size.height} px, quality {QUALITY}: ", end="")
        print("SSIMULACRA2", " ".join(f"{one:.1f}" for one in wanted))
        print(f"{'way':28}{'size at that':>14}{'CPU':>8}")
        for name, options in WAYS.items():
            shares = []
            for pixels, aim, before in zip(pictures, wanted, plain, strict=True):
                tried = [encoded(pixels, quality, options) for quality in TRIED]
                scores = [score(pixels, data) for data in tried]
                logs = np.log([len(data) for data in tried])
                shares.append(float(np.exp(np.interp(aim, scores, logs))) / len(before))
            spent = sum(cpu_of(one, options) for one in pictures) / usual
            print(f"{name:28}{np.mean(shares):14.3f}{spent:7.1f}x", flush=True)


if __name__ == "__main__":
    main()
