"""How a sheet says things: numbers with their units, shapes, verdicts in the trade's words."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from cropper.destination.destination import Destination
from cropper.proposal.proposal import Measure, Proposal, Verdict

MEANINGS: Final = {
    Verdict.HOLDS: "nothing that matters is lost",
    Verdict.BENDS: "something small is given up, the sentence says what",
    Verdict.BREAKS: "no editor would send it out like this",
    Verdict.UNCERTAIN: "please look: something is not known for sure",
    Verdict.NO_CROP: "too few pixels, or no person for an identity picture",
}
"""What each verdict means, in the order of a tally; its word is :attr:`Verdict.word`."""


def said(verdict: Verdict | str) -> str:
    """The word for a verdict.

    >>> said("holds"), said(Verdict.NO_CROP)
    ('good', 'no crop')
    """
    return Verdict(verdict).word


TWO_DIGITS: Final = 100
"""From here on, decimals say nothing to a reader (house)."""

SHAPE_NAMES_MOST: Final = 36
"""A shape whose reduced terms stay below this is said as 4:5, else as a decimal (house)."""


def slug(verdict: Verdict) -> str:
    """The verdict as a class name and id: ``no crop`` becomes ``no-crop``."""
    return verdict.value.replace(" ", "-")


def quantity(value: float | None, unit: str) -> str:
    """A measured value; shares of the frame in per cent, short units beside the number.

    Longer units are sentences of their own and are said once, by :func:`unit_said`.

    >>> quantity(0.333, "of the height"), quantity(2.4, "heads"), quantity(None, "px")
    ('33.3 %', '2.40 heads', '–')
    """
    if value is None:
        return "–"
    if _is_share(unit):
        return f"{100 * value:.1f} %"
    beside = f" {unit}" if unit and " " not in unit else ""
    if unit.startswith("px") or abs(value) >= TWO_DIGITS:
        return f"{value:,.0f}".replace(",", "\N{NARROW NO-BREAK SPACE}") + beside
    return f"{value:.2f}{beside}"


def unit_said(unit: str) -> str:
    """The part of a unit that stands apart from the number, once per rule.

    >>> unit_said("of the height"), unit_said("px to spare"), unit_said("heads")
    ('of the height', 'px to spare', '')
    """
    return unit if " " in unit else ""


def _is_share(unit: str) -> bool:
    return unit in {"", "share"} or unit.startswith("of ")


def span(ends: tuple[float | None, float | None] | None, unit: str) -> str:
    """A target or limit: from - to, or one open end.

    >>> span((0.303, 0.363), "of the height"), span((None, 2), "heads"), span(None, "")
    ('30.3 – 36.3 %', 'at most 2.00 heads', '–')
    """
    if ends is None or ends == (None, None):
        return "–"
    least, most = ends
    if least is None or least == float("-inf"):
        return f"at most {quantity(most, unit)}"
    if most is None or most == float("inf"):
        return f"at least {quantity(least, unit)}"
    low, high = quantity(least, unit), quantity(most, unit)
    number, _, tail = low.partition(" ")
    if low == high:
        return low
    return f"{number} – {high}" if high.endswith(tail) else f"{low} – {high}"


def doubt(measure: Measure) -> str:
    """The measure's uncertainty, as said after its value; empty when there is none."""
    if not measure.uncertainty or measure.value is None:
        return ""
    return f"± {quantity(measure.uncertainty, measure.unit)}"


def shape(destination: Destination) -> str:
    """The frame's shape: 4:5, 1.91:1, a range, or the master's own.

    >>> from cropper.destination.destination import ShapeRange
    >>> four_fifths = ShapeRange(Fraction(4, 5), Fraction(4, 5))
    >>> shape(Destination(name="a", title="A", shape=four_fifths))
    '4:5'
    """
    least, most = destination.shape.least, destination.shape.most
    if destination.full_frame:
        return "the master's own shape"
    if least == most:
        return ratio(least)
    return f"{ratio(least)} to {ratio(most)}"


def ratio(value: Fraction) -> str:
    """A width over height, in small whole terms when it has them.

    >>> ratio(Fraction(9, 16)), ratio(Fraction(1911, 1000)), ratio(Fraction(10, 33))
    ('9:16', '1.91:1', '10:33')
    """
    if max(value.numerator, value.denominator) < SHAPE_NAMES_MOST:
        return f"{value.numerator}:{value.denominator}"
    return f"{float(value):.2f}:1" if value >= 1 else f"1:{float(1 / value):.2f}"


def size(destination: Destination, proposal: Proposal | None) -> str:
    """What is delivered: pixels, and millimetres for paper."""
    parts = []
    if destination.page_mm is not None:
        wide, high = (f"{float(side):g}" for side in destination.page_mm)
        bleed = f" + {float(destination.bleed_mm):g} mm bleed" if destination.bleed_mm else ""
        parts.append(f"{wide} × {high} mm{bleed}")
    pixels = proposal.delivered if proposal is not None else destination.delivered
    if pixels is not None:
        parts.append(f"{pixels.width} × {pixels.height} px")
    return ", ".join(parts)


def pixels(proposal: Proposal) -> str:
    """Pixels before and after, enlargement and print resolution, as one sentence."""
    box, after = proposal.crop.box, proposal.delivered
    said = f"{box.width} × {box.height} px of the master become {after.width} × {after.height}"
    if proposal.enlargement > 1:
        said += f", enlarged {proposal.enlargement:.2f} times"
    if proposal.effective_ppi is not None:
        said += f", {proposal.effective_ppi:.0f} master pixels per inch on paper"
    return said + "."


def tally(verdicts: list[Verdict]) -> tuple[tuple[Verdict, int], ...]:
    """How many of each verdict, in the order of the list of verdicts, none left out."""
    return tuple((verdict, verdicts.count(verdict)) for verdict in MEANINGS)
