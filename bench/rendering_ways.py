"""The ways that the rendering bench compares, each making the same boxes of one master.

A way is prepared (engines imported), then run. The peers are scripted as their own pages show
it: in gamma light at 8 bits, no words in the file. This engine works in linear light at 16 bits
and writes its words.
"""

from __future__ import annotations

import importlib
import json
import resource
import shutil
import subprocess
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

from cropper.deliverable.delivering import Order, deliver_all
from cropper.deliverable.words import Words
from cropper.destination.destination import Destination, Finish, ShapeRange
from cropper.geometry import Crop, PixelBox, Size
from cropper.master.opening import open_master

PEERS = Path(__file__).parent / "peers"
"""Where `npm install --prefix bench/peers` puts the peer that runs on Node.js."""

Spent = dict[str, float]
Run = Callable[[], Spent | int]
"""What a prepared way does: the bytes made, or what it measured itself in another process."""

WORDS = Words(
    creator="R. Quillfeather",
    credit="R. Quillfeather / Fernhollow Mill",
    caption="Hooded shawl, warm grey backdrop (invented).",
)

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


def orders(size: Size, count: int) -> list[Order]:
    """The same boxes as this engine is asked for them."""
    return [
        Order(
            crop=Crop(PixelBox(*box)),
            destination=Destination(
                name="bench",
                title="bench",
                shape=ShapeRange(Fraction(w, h), Fraction(w, h)),
                delivered=Size(w, h),
                greatest_enlargement=Fraction(4),
                finish=Finish(quality=90),
            ),
            words=WORDS,
        )
        for box, (w, h) in boxes(size.width, size.height, count)
    ]


def ours(path: Path, count: int) -> Run:
    for engine in ("cykooz_resizer", "cv2", "PIL.ImageCms", "pyvips", "simplejpeg"):
        importlib.import_module(engine)

    def run() -> int:
        master = open_master(path)
        return sum(len(done.data) for done in deliver_all(master, orders(master.size, count)))

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


def pillow(path: Path, count: int, *, once: bool) -> Run:
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


def vips(path: Path, count: int) -> Run:
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


def floor(path: Path, count: int) -> Run:
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


def vips_thumbnail(path: Path, count: int) -> Run:
    import pyvips

    def run() -> int:
        head = pyvips.Image.new_from_file(str(path))
        total = 0
        for (x0, y0, x1, y1), (w, h) in boxes(head.width, head.height, count):
            image = pyvips.Image.new_from_file(str(path))
            part = image.crop(x0, y0, x1 - x0, y1 - y0)
            part = part.thumbnail_image(w, height=h, size="force", export_profile="srgb")
            part = part.sharpen(sigma=0.6).cast("uchar").copy(interpretation="srgb")
            total += len(part.jpegsave_buffer(Q=90, subsample_mode="off"))
        return total

    return run


def sharp(path: Path, count: int, *, how: str) -> Run:
    def run() -> Spent:
        from PIL import Image

        Image.MAX_IMAGE_PIXELS = None
        with Image.open(path) as head:
            asked = boxes(*head.size, count)
        done = subprocess.run(
            ["node", str(PEERS / "outputs.mjs"), str(path), how],
            input=json.dumps(asked),
            check=True,
            capture_output=True,
            text=True,
        )
        spent: Spent = json.loads(done.stdout)
        return spent

    return run


def imagemagick(path: Path, count: int) -> Run:
    program = shutil.which("magick") or "convert"

    def run() -> Spent:
        import tempfile
        import time

        from PIL import Image

        from cropper.master.spaces import SPACES

        Image.MAX_IMAGE_PIXELS = None
        with Image.open(path) as head:
            asked = boxes(*head.size, count)
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        begun, total = time.perf_counter(), 0
        with tempfile.TemporaryDirectory() as folder:
            srgb = Path(folder, "srgb.icc")
            srgb.write_bytes(SPACES["srgb"].profile)
            for (x0, y0, x1, y1), (w, h) in asked:
                out = Path(folder, "out.jpg")
                command = [program, str(path), "-crop", f"{x1 - x0}x{y1 - y0}+{x0}+{y0}", "+repage"]
                command += ["-filter", "Lanczos", "-resize", f"{w}x{h}!", "-profile", str(srgb)]
                command += ["-unsharp", "0x0.6", "-depth", "8", "-quality", "90"]
                subprocess.run([*command, "-sampling-factor", "4:4:4", str(out)], check=True)
                total += out.stat().st_size
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
        wall = time.perf_counter() - begun
        return {"bytes": total, "cpu": cpu, "wall": wall, "peak": after.ru_maxrss / 1024}

    return run


WAYS: dict[str, Callable[[Path, int], Run]] = {
    "codec floor": floor,
    "this engine": ours,
    "Pillow, naive": lambda path, count: pillow(path, count, once=False),
    "Pillow, decoded once": lambda path, count: pillow(path, count, once=True),
    "libvips per output": vips,
    "libvips thumbnail": vips_thumbnail,
    "sharp, one by one": lambda path, count: sharp(path, count, how="one-by-one"),
    "sharp, together": lambda path, count: sharp(path, count, how="together"),
    "ImageMagick": imagemagick,
}


def missing(way: str) -> str:
    """Why a way cannot run on this machine; empty when it can."""
    if way.startswith("sharp") and not (PEERS / "node_modules" / "sharp").is_dir():
        return "not installed: npm install --prefix bench/peers"
    if way == "ImageMagick" and not (shutil.which("magick") or shutil.which("convert")):
        return "not installed: Debian's imagemagick"
    return ""
