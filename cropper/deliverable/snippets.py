"""Text beside the deliverables: words to copy, and HTML for pages that show the pictures.

Everything here is text from rows of the manifest and the words of their files; nothing is read or
written. Addresses cannot be known here, so they are names of files, or stand plainly to be filled
in.

    copy_text(worded)                                 -> texts/<file's stem>.txt
    for family in image_families(delivered):          # files that show one crop in several sizes
        srcset_snippet(family, worded)                -> an <img>, or a <picture>
    open_graph_snippet(row, worded)                   -> <meta> lines for link previews
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from pathlib import PurePosixPath
from typing import Final
from urllib.parse import quote

from cropper.deliverable.manifest import Delivered
from cropper.deliverable.worded import Worded
from cropper.destination.formats import FORMATS

SMALLEST_FIRST: Final = ("avif", "webp", "jpeg", "png")
"""Formats in the order in which a page offers them (house); others come after."""
PLAINEST: Final = ("image/jpeg", "image/png")
"""Types for the ``<img>`` itself, which every browser shows."""
ADDRESS: Final = "https://FILL-IN.example/pictures/"
"""To be replaced: ``.example`` is nobody's, and never will be (RFC 2606)."""
SIZES: Final = "100vw"
"""How wide the picture stands on the page, until the page's author says it (HTML, ``sizes``)."""
SAME_SHAPE: Final = 0.01
SAME_CROP: Final = 0.02
"""Two files show one crop when their shapes differ by at most so much, and each edge of their crops
by at most so much of the crop's longer side (house)."""
NO_ALT: Final = "<!-- The alt text is missing: write it in words.toml, then export again. -->\n"


def copy_text(worded: Worded, *, title: str = "") -> str:
    r"""Credit line, caption and alt text of one file, each under its heading; UTF-8, "\n" ends.

    What is not there is left out; nothing at all gives "". ``title`` comes first, for example the
    name of the file or the destination's title.
    """
    parts = (
        ("Credit line", worded.credit_line),
        ("Caption", worded.caption),
        ("Alt text", worded.alt_text),
    )
    said = [f"{heading}\n{text}\n" for heading, text in parts if text]
    if not said:
        return ""
    return "\n".join((*([f"{title}\n"] if title else []), *said))


def for_the_web(row: Delivered) -> bool:
    """Whether browsers show the file: its kind is one of theirs and it is not for paper."""
    return row.ppi is None and _media_type(row) is not None


def image_families(rows: Iterable[Delivered]) -> tuple[tuple[Delivered, ...], ...]:
    """The web files that show the same crop of the same version, in families, as they come.

    Files for paper are in none. Each file is in one family, with the first that it is like.
    """
    families: list[list[Delivered]] = []
    for row in rows:
        if not for_the_web(row):
            continue
        kin = next((family for family in families if _alike(family[0], row)), None)
        if kin is None:
            families.append([row])
        else:
            kin.append(row)
    return tuple(tuple(family) for family in families)


def srcset_snippet(
    rows: Sequence[Delivered], worded: Worded, *, folder: str = "", sizes: str = SIZES
) -> str:
    """An ``<img>`` that lets the browser choose its size from one family; "" for no rows.

    In several kinds of file it becomes a ``<picture>`` with the plainest kind in its ``<img>``.
    ``folder`` goes before each name. ``width`` and ``height`` are the largest file's, in px, so
    that the page keeps the place free (HTML Living Standard, 4.8).
    """
    by_type = _by_type(rows)
    if not by_type:
        return ""
    plain = next((kind for kind in PLAINEST if kind in by_type), next(reversed(by_type)))
    image = _image(by_type[plain], worded, folder=folder, sizes=sizes)
    sources = [
        f'  <source type="{kind}" srcset="{_srcset(files, folder)}" sizes="{_attribute(sizes)}">\n'
        for kind, files in by_type.items()
        if kind != plain
    ]
    several = len(by_type[plain]) > 1 or bool(sources)
    head = (_REMARK if several else _REMARK_FOR_ONE) + (NO_ALT if not worded.alt_text else "")
    if not sources:
        return f"{head}{image}\n"
    inner = image.replace("\n", "\n  ")
    return f"{head}<picture>\n{''.join(sources)}  {inner}\n</picture>\n"


_REMARK: Final = (
    "<!-- Put the address of the pictures' folder before each name, and into sizes how wide the"
    " picture stands on your page. -->\n"
)

_REMARK_FOR_ONE: Final = "<!-- Put the address of the picture's folder before its name. -->\n"


def open_graph_snippet(row: Delivered, worded: Worded, *, address: str = ADDRESS) -> str:
    """``<meta>`` lines by which a link to the page shows this file (the Open Graph protocol).

    The protocol wants an absolute address: ``address`` is the folder the file will lie in, and
    stands plainly to be filled in unless given.
    """
    place = f"{address.rstrip('/')}/{quote(PurePosixPath(row.file).name)}"
    pairs = (
        ("og:title", worded.words.headline),
        ("og:image", place),
        ("og:image:type", _media_type(row) or ""),
        ("og:image:width", str(row.width)),
        ("og:image:height", str(row.height)),
        ("og:image:alt", worded.alt_text),
    )
    lines = "".join(
        f'<meta property="{name}" content="{_attribute(text)}">\n' for name, text in pairs if text
    )
    fill_in = " Fill in the address that the picture will have." if address == ADDRESS else ""
    head = f"<!-- For the head of the page.{fill_in} -->\n"
    return f"{head}{'' if worded.alt_text else NO_ALT}{lines}"


def _media_type(row: Delivered) -> str | None:
    return _media_types().get(PurePosixPath(row.file).suffix.lower().removeprefix("."))


def _media_types() -> dict[str, str]:
    """Media types of what browsers show, by the file's ending."""
    shown = {name: one for name, one in FORMATS.items() if one.browsers}
    order = dict.fromkeys((*(name for name in SMALLEST_FIRST if name in shown), *shown))
    return {shown[name].ending: shown[name].media_type for name in order}


def _alike(one: Delivered, other: Delivered) -> bool:
    """Whether two files show the same crop of the same master."""
    if (one.version, one.master_sha256) != (other.version, other.master_sha256):
        return False
    shapes = (one.width / one.height, other.width / other.height)
    if abs(shapes[0] / shapes[1] - 1) > SAME_SHAPE or one.straighten_deg != other.straighten_deg:
        return False
    longer = max(one.crop[2] - one.crop[0], one.crop[3] - one.crop[1])
    apart = (abs(a - b) for a, b in zip(one.crop, other.crop, strict=True))
    return max(apart) <= SAME_CROP * longer


def _by_type(rows: Sequence[Delivered]) -> dict[str, list[Delivered]]:
    """Files by media type in the order of the table, by width, each width once."""
    found: dict[str, dict[int, Delivered]] = {kind: {} for kind in _media_types().values()}
    for row in rows:
        kind = _media_type(row)
        if kind is not None:
            found[kind].setdefault(row.width, row)
    return {
        kind: [files[width] for width in sorted(files)] for kind, files in found.items() if files
    }


def _image(files: Sequence[Delivered], worded: Worded, *, folder: str, sizes: str) -> str:
    largest = files[-1]
    language = f' lang="{_attribute(worded.language)}"' if worded.language else ""
    lines = [f'src="{_place(largest, folder)}"']
    if len(files) > 1:
        lines += [f'srcset="{_srcset(files, folder)}"', f'sizes="{_attribute(sizes)}"']
    lines.append(f'width="{largest.width}" height="{largest.height}"')
    lines.append(f'alt="{_attribute(worded.alt_text)}"{language}>')
    return "<img " + "\n  ".join(lines)


def _srcset(files: Sequence[Delivered], folder: str) -> str:
    return ", ".join(f"{_place(one, folder)} {one.width}w" for one in files)


def _place(row: Delivered, folder: str) -> str:
    """The file's address below ``folder``, fit for an attribute and a list of addresses."""
    before = f"{folder.rstrip('/')}/" if folder else ""
    return _attribute(quote(f"{before}{row.file}", safe="/:~"))


def _attribute(text: str) -> str:
    """Text fit for a quoted attribute, on one line."""
    return escape(" ".join(text.split()), quote=True)
