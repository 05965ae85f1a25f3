"""A drawing as SVG inside a page: inks are the page's own variables, every word is escaped."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, Final

from markupsafe import Markup, escape

from cropper.account.intervals import TONES, Shape, shape_of
from cropper.account.timeline_marks import Box, Drawing, Hatch, Line, Stamp, Words

GAP: Final = 3.2
"""Between the lines of a hatching, in points (house)."""
STROKES: Final = {
    Hatch.RISING: f"M0 {GAP}L{GAP} 0",
    Hatch.FALLING: f"M0 0L{GAP} {GAP}",
    Hatch.UPRIGHT: f"M{GAP / 2} 0V{GAP}",
    Hatch.CROSSED: f"M0 {GAP}L{GAP} 0M0 0L{GAP} {GAP}",
}
ANCHORS: Final = {"start": "start", "middle": "middle", "end": "end"}


def svg(drawing: Drawing, name: str, said: str) -> Markup:
    """The drawing as one ``<svg>``; ``name`` keeps its patterns apart from other drawings'."""
    marks = Markup("\n").join(_marks(drawing, name))
    patterns = Markup("").join(_pattern(*key, name) for key in _hatched(drawing))
    return Markup(
        '<svg viewBox="0 0 {wide} {high}" role="img" aria-label="{said}"><defs>{patterns}</defs>\n'
        "{marks}\n</svg>"
    ).format(
        wide=_n(drawing.wide), high=_n(drawing.high), said=said, patterns=patterns, marks=marks
    )


def _marks(drawing: Drawing, name: str) -> Iterator[Markup]:
    for mark in drawing.marks:
        if isinstance(mark, Box):
            yield _box(mark, name)
        else:
            yield _DRAWN[type(mark)](mark)


def _n(number: float) -> str:
    return f"{number:.2f}".rstrip("0").rstrip(".")


def _ink(name: str) -> str:
    return f"var(--{'card' if name == 'paper' else name})"


def _hatched(drawing: Drawing) -> list[tuple[Hatch, str]]:
    found = {(m.hatch, m.ink) for m in drawing.marks if isinstance(m, Box) and m.hatch}
    return sorted(found)


def _pattern(hatch: Hatch, ink: str, name: str) -> Markup:
    return Markup(
        '<pattern id="{id}" width="{gap}" height="{gap}" patternUnits="userSpaceOnUse">'
        '<path d="{d}" fill="none" stroke="{ink}" stroke-width=".7"/></pattern>'
    ).format(id=f"{name}-{hatch}-{ink}", gap=GAP, d=STROKES[hatch], ink=_ink(ink))


def _line(mark: Line) -> Markup:
    return Markup(
        '<path d="M{x0} {y0}L{x1} {y1}" stroke="{ink}" stroke-width="{wide}"{dash}/>'
    ).format(
        x0=_n(mark.x0),
        y0=_n(mark.y0),
        x1=_n(mark.x1),
        y1=_n(mark.y1),
        ink=_ink(mark.ink),
        wide=_n(mark.wide),
        dash=_dash(mark.dash),
    )


def _dash(dash: float) -> Markup:
    return Markup(' stroke-dasharray="{0}"').format(_n(dash)) if dash else Markup("")


def _box(mark: Box, name: str) -> Markup:
    return Markup("").join(_layers(mark, name))


def _layers(mark: Box, name: str) -> Iterator[Markup]:
    """Fill, hatching and edge, each on the one before."""
    if mark.fill:
        yield _rect(mark, f'fill="{_ink(mark.ink)}" fill-opacity="{_n(mark.fill)}"')
    if mark.hatch:
        yield _rect(mark, f'fill="url(#{name}-{mark.hatch}-{mark.ink})"')
    if mark.edge:
        dash = _dash(mark.dash)
        yield _rect(
            mark, f'fill="none" stroke="{_ink(mark.ink)}" stroke-width="{_n(mark.edge)}"{dash}'
        )


def _rect(mark: Box, attributes: str) -> Markup:
    """``attributes`` are of our own making."""
    title = escape(mark.title)
    inside = Markup("<title>{0}</title>").format(title) if title else ""
    return Markup('<rect x="{x}" y="{y}" width="{w}" height="{h}" {more}>{inside}</rect>').format(
        x=_n(mark.x0),
        y=_n(mark.y0),
        w=_n(max(mark.x1 - mark.x0, 0)),
        h=_n(mark.y1 - mark.y0),
        more=Markup(attributes),  # noqa: S704 - numbers and names of inks
        inside=inside,
    )


def _words(mark: Words) -> Markup:
    weight = ' font-weight="600"' if mark.bold else ""
    return Markup(
        '<text x="{x}" y="{y}" font-size="{size}" fill="{ink}" text-anchor="{anchor}"{weight}>'
        "{text}</text>"
    ).format(
        x=_n(mark.x),
        y=_n(mark.y + 0.36 * mark.size),
        size=_n(mark.size),
        ink=_ink(mark.ink),
        anchor=ANCHORS[mark.align],
        weight=Markup(weight),  # noqa: S704 - one of two constants
        text=mark.text,
    )


def _stamp(mark: Stamp) -> Markup:
    return stamp(mark.mark, mark.x, mark.y, mark.r)


def stamp(mark: int, x: float, y: float, r: float) -> Markup:
    """A version's mark, centred on (x, y)."""
    ink = f"var(--t{mark % len(TONES)})"
    solid = f'fill="{ink}"'
    hollow = f'fill="var(--card)" stroke="{ink}" stroke-width="1.3"'
    match shape_of(mark):
        case Shape.DISC:
            told = f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(r)}" {solid}/>'
        case Shape.SQUARE:
            told = _square(x, y, 0.9 * r, solid)
        case Shape.WEDGE:
            top, foot = _n(y - 1.1 * r), _n(y + 0.9 * r)
            told = f'<path d="M{_n(x)} {top}L{_n(x + 1.1 * r)} {foot}H{_n(x - 1.1 * r)}Z" {solid}/>'
        case Shape.LOZENGE:
            a = 1.25 * r
            told = (
                f'<path d="M{_n(x)} {_n(y - a)}L{_n(x + a)} {_n(y)}L{_n(x)} {_n(y + a)}'
                f'L{_n(x - a)} {_n(y)}Z" {solid}/>'
            )
        case Shape.RING:
            told = f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(0.8 * r)}" {hollow}/>'
        case Shape.BOX:
            told = _square(x, y, 0.75 * r, hollow)
    return Markup(told)  # noqa: S704 - numbers and names of inks


def _square(x: float, y: float, half: float, style: str) -> str:
    side = _n(2 * half)
    return f'<rect x="{_n(x - half)}" y="{_n(y - half)}" width="{side}" height="{side}" {style}/>'


_DRAWN: Final[dict[type, Callable[[Any], Markup]]] = {Line: _line, Words: _words, Stamp: _stamp}
