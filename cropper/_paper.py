"""Paper that every sheet of this house is printed on: its type, its inks, its one accent.

Below all rooms, so that proof sheets and accounts look like one house without knowing each other.
"""

from __future__ import annotations

from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import Final

from reportlab import rl_config
from reportlab.lib.colors import HexColor
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFError, TTFont

PLAIN, BOLD = "ProofSans", "ProofSans-Bold"
INK: Final = HexColor("#23211f")
SOFT: Final = HexColor("#57534e")
RULE: Final = HexColor("#c3bfba")
PAPER: Final = HexColor("#ffffff")
ACCENT: Final = HexColor("#7c4219")

# Streams are bytes: written as text (ASCII85) they take a quarter more room, and longer.
rl_config.useA85 = 0


@cache
def fonts() -> frozenset[int]:
    """Register a sans that knows many scripts; its characters. Vera stands in when it is missing.

    DejaVu Sans comes with matplotlib; matplotlib itself is not imported.
    """
    for plain, bold in _font_files():
        try:
            face = TTFont(PLAIN, plain)
            pdfmetrics.registerFont(face)
            pdfmetrics.registerFont(TTFont(BOLD, bold))
        except (TTFError, OSError):
            continue
        return frozenset(face.face.charWidths)
    message = "no font for the contact sheet: reportlab's own Vera is missing"
    raise RuntimeError(message)


def _font_files() -> list[tuple[str, str]]:
    pairs = [("Vera.ttf", "VeraBd.ttf")]
    spec = find_spec("matplotlib")
    if spec is not None and spec.origin is not None:
        folder = Path(spec.origin).parent / "mpl-data" / "fonts" / "ttf"
        pairs.insert(0, (str(folder / "DejaVuSans.ttf"), str(folder / "DejaVuSans-Bold.ttf")))
    return pairs


def sayable(text: str) -> str:
    """The text with characters that the font cannot draw as a white square."""
    known = fonts()
    return "".join(sign if ord(sign) in known else "□" for sign in text if sign.isprintable())
