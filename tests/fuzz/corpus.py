"""What is mutated: small right files of every kind that a reader of ours takes in, made by code."""

from __future__ import annotations

import io
import json
from collections.abc import Callable, Mapping
from datetime import UTC, datetime

import numpy as np
from PIL import Image, ImageCms

from tests.fuzz import job_corpus

Corpus = Mapping[str, bytes]


def pictures() -> Corpus:
    """JPEG (plain, progressive, grey, CMYK), PNG, WebP and TIFF, with profile and EXIF."""
    size = (96, 72)
    across, down = np.meshgrid(np.linspace(40, 220, size[0]), np.linspace(0, 40, size[1]))
    grain = np.random.default_rng(3).integers(0, 12, (size[1], size[0], 3))
    pixels = np.clip(np.stack([across, across - down, down * 4], 2) + grain, 0, 255)
    image = Image.fromarray(pixels.astype(np.uint8))
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    exif = Image.Exif()
    exif[0x0112] = 6
    exif[0x013B] = "R. Quillfeather"
    made: dict[str, bytes] = {}

    def add(name: str, kind: str, source: Image.Image = image, **how: object) -> None:
        file = io.BytesIO()
        source.save(file, kind, **how)
        made[name] = file.getvalue()

    add("plain.jpg", "JPEG", quality=88, icc_profile=profile, exif=exif)
    add("progressive.jpg", "JPEG", quality=80, progressive=True)
    add("grey.jpg", "JPEG", image.convert("L"))
    add("cmyk.jpg", "JPEG", image.convert("CMYK"))
    add("plain.png", "PNG", icc_profile=profile)
    add("clear.png", "PNG", image.convert("RGBA"))
    add("palette.png", "PNG", image.convert("P"))
    add("plain.webp", "WEBP", quality=80, exif=exif)
    add("plain.tif", "TIFF", icc_profile=profile)
    add("lzw.tif", "TIFF", compression="tiff_lzw")
    deep = Image.fromarray((pixels[:, :, 0] * 257).astype(np.uint16))
    add("deep.tif", "TIFF", deep)
    return made


PRESETS = b"""[shop-tile]
title = "Shop tile"
groups = ["web"]
size_px = [900, 1200]
framing = ["close-up", "bust"]
eye_line = { target = [0.3, 0.36], limits = [0.25, 0.45] }
finish = { format = "jpeg", quality = 90, byte_cap = "300 kB" }
[[shop-tile.covered]]
name = "buttons"
box = [0, 0.8, 1, 1]
keep_clear = "face"
[small-print]
title = "Print"
size_mm = [130, 180]
bleed_mm = 3
ppi = 300
"""

WORDS = b"""headline = "Copper light"
caption = "Hooded shawl, warm grey backdrop (invented)."
alt_text = "A woman in a hooded shawl looks at us."
[copyright]
year = 2026
owner = "R. Quillfeather"
[[credit]]
role = "photographer"
name = "R. Quillfeather"
[[credit]]
role = "makeup"
name = "Tove Lindqvist-Hale"
"""

OUTLETS = b"""[outlets.my-pages]
kind = "stream"
audience = "followers"
window_days = 30
[outlets.mill-shop]
kind = "placed"
audience = ["followers", "buyers"]
[destinations]
page-header = "mill-shop"
[fixed]
page-header = "roll"
"""

TAGS = b"""[tags]
eyes = ["eye", "eyes", "look*"]
light = ["light", "glow"]
"""

RUNS = b"""run,version,set,outlet,from,until,zone,state\r
a,roll,shawl,mill-shop,2026-03-01,2026-04-01,Europe/Oslo,live\r
b,hood,shawl,my-pages,2026-04-01T09:00+02:00,,UTC,planned\r
"""

REMARKS = b"""text,outlet,version,at,author\r
the eyes hold me,my-pages,roll,2026-03-02T10:00Z,somebody\r
"warm, warm light",my-pages,hood,2026-03-02T11:00Z,else\r
"""

SIDECAR = b"""<x:xmpmeta xmlns:x="adobe:ns:meta/">
<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<rdf:Description rdf:about="" xmlns:Iptc4xmpExt="http://iptc.org/std/Iptc4xmpExt/2008-02-29/">
<Iptc4xmpExt:ImageRegion><rdf:Bag><rdf:li rdf:parseType="Resource">
<Iptc4xmpExt:rId>page-header</Iptc4xmpExt:rId>
<Iptc4xmpExt:RegionBoundary rdf:parseType="Resource">
<Iptc4xmpExt:rbShape>rectangle</Iptc4xmpExt:rbShape>
<Iptc4xmpExt:rbUnit>relative</Iptc4xmpExt:rbUnit>
<Iptc4xmpExt:rbX>0.1</Iptc4xmpExt:rbX><Iptc4xmpExt:rbY>0.2</Iptc4xmpExt:rbY>
<Iptc4xmpExt:rbW>0.5</Iptc4xmpExt:rbW><Iptc4xmpExt:rbH>0.4</Iptc4xmpExt:rbH>
</Iptc4xmpExt:RegionBoundary>
</rdf:li></rdf:Bag></Iptc4xmpExt:ImageRegion>
</rdf:Description></rdf:RDF></x:xmpmeta>
"""


def plans() -> Corpus:
    """A plan as a job keeps it."""
    from cropper.destination.presets import load_presets  # noqa: PLC0415 - only in the child
    from cropper.job import codec  # noqa: PLC0415
    from cropper.job.plan import Plan, PlannedMaster  # noqa: PLC0415
    from cropper.proposal.planning import propose  # noqa: PLC0415
    from tests.unit.proposal.people import found, person  # noqa: PLC0415

    finding = found(1500, 2000, person(750, 800, 350))
    places = load_presets().choose(("square-post", "page-header"))
    master = PlannedMaster(
        file="roll.jpg",
        path="roll.jpg",
        sha256="0" * 64,
        width=1500,
        height=2000,
        version="roll",
        finding=finding,
        answers=tuple(propose(finding, one) for one in places),
    )
    plan = Plan(
        program_version="0", made_at=datetime(2026, 3, 1, tzinfo=UTC), destinations=places,
        masters=(master,),
    )  # fmt: skip
    whole = codec.to_text(plan).encode()
    return {"plan.json": whole, "master.json": codec.master_text(master, 0).encode()}


def records() -> Corpus:
    """A record's document, a backup and its policies."""
    from cropper.publication.facts import Facts  # noqa: PLC0415 - only in the child
    from cropper.record.exchange import document  # noqa: PLC0415

    head = {"what": "a backup of a cropper record", "shape": "0002"}
    row = {
        "table": "outlet", "id": "a", "thread": "my-pages", "supersedes": None, "why": "",
        "recorded_at": "2026-03-01T00:00:00+00:00", "recorded_by": "",
        "body": {"name": "my-pages", "kind": "stream", "audience": ["followers"]},
    }  # fmt: skip
    told = document(Facts())
    told["outlets"] = [row["body"]]
    told["runs"] = [
        {
            "id": "a", "piece": "", "version": "roll", "outlet": "my-pages",
            "span": {"start": "2026-03-01T00:00:00Z", "until": None},
        }
    ]  # fmt: skip
    return {
        "record.json": json.dumps(told).encode(),
        "record.backup": f"{json.dumps(head)}\n{json.dumps(row)}\n".encode(),
    }


def policies() -> Corpus:
    """An agreement as ODRL."""
    from cropper.publication.licences import Licence, LicenceKind  # noqa: PLC0415
    from cropper.publication.spans import Span  # noqa: PLC0415
    from cropper.record import odrl  # noqa: PLC0415

    start = datetime(2026, 3, 1, tzinfo=UTC)
    span = Span(start, datetime(2026, 4, 1, tzinfo=UTC))
    kind = next(iter(LicenceKind))
    licence = Licence(id="deal-1", kind=kind, span=span, outlet="mill-shop", set="shawl")
    return {"deals.jsonld": json.dumps(odrl.policies([licence])).encode()}


CORPORA: Mapping[str, Callable[[], Corpus]] = {
    "picture": pictures,
    "preset": lambda: {"presets.toml": PRESETS},
    "plan": plans,
    "words": lambda: {"words.toml": WORDS},
    "outlets": lambda: {"outlets.toml": OUTLETS},
    "tags": lambda: {"tags.toml": TAGS},
    "runs": lambda: {"runs.csv": RUNS},
    "remarks": lambda: {"remarks.csv": REMARKS},
    "record": records,
    "policy": policies,
    "sidecar": lambda: {"roll.xmp": SIDECAR},
    **job_corpus.CORPORA,
}
