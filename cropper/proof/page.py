"""The proof sheet as one HTML file: no script, nothing fetched, every word escaped.

The page forbids itself everything but its own style block (by hash) and pictures written into it.
Overlays are toggled by check boxes and the style sheet alone.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable
from functools import cache
from importlib.resources import files
from typing import Final

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from cropper.geometry import Point
from cropper.proof import arranging, views, words
from cropper.proof.entry import Sheet
from cropper.proof.overlays import LAYERS, Layer, Veil
from cropper.proof.previews import Album
from cropper.proposal.proposal import Verdict

DROPS: Final = dict.fromkeys(Layer, -0.35) | {
    Layer.HEADROOM: 1.05,
    Layer.COVERED: 0.35,
    Layer.FILLED: 0.35,
}
"""How far a label's baseline lies below its point, in letter sizes: over a line, under the hair's
top, in the middle of a zone."""

LOOK_FIRST: Final = frozenset({Verdict.NO_CROP, Verdict.BREAKS, Verdict.UNCERTAIN})
"""Verdicts that are listed at the head of the sheet."""


def html(sheet: Sheet, pictures: tuple[Album, ...]) -> str:
    """The whole sheet as one HTML text; the same sheet gives the same text."""
    sections = tuple(
        arranging.section(master, album_, f"version-{number}")
        for number, (master, album_) in enumerate(zip(sheet.masters, pictures, strict=True), 1)
    )
    cards = [card for section in sections for card in section.cards]
    style = _style()
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode("ascii")
    titles = {card.name: card.title for card in cards}
    attention = _attention(sections)
    return (
        _environment()
        .get_template("sheet.html")
        .render(
            title=sheet.title,
            dated=sheet.dated,
            style=Markup(style),  # noqa: S704 - the package's own file, nothing of the user's in it
            style_hash=Markup(digest),  # noqa: S704 - base64 of our own digest
            sections=sections,
            matrices=tuple(arranging.matrix(one, sections, titles) for one in sheet.matrices),
            failures=sheet.failures,
            tally=words.tally([card.verdict for card in cards]),
            meanings=words.MEANINGS,
            layers=LAYERS,
            present=_present(sections),
            attention=attention,
            look_first=len(sheet.failures) + sum(len(listed) for _, listed in attention),
            crops=len(cards),
        )
    )


def _attention(
    sections: tuple[views.Section, ...],
) -> tuple[tuple[views.Section, tuple[views.Card, ...]], ...]:
    """What a person should look at before the rest, by master."""
    lists = (
        (one, tuple(card for card in one.cards if card.verdict in LOOK_FIRST or card.note))
        for one in sections
    )
    return tuple((section, cards) for section, cards in lists if cards)


def _counted(cards: tuple[views.Card, ...]) -> tuple[tuple[Verdict, int], ...]:
    """How many cards have each verdict."""
    return words.tally([card.verdict for card in cards])


def _tallied(section: views.Section) -> tuple[tuple[Verdict, int], ...]:
    """How many of a master's cards have each verdict."""
    return _counted(section.cards)


def _present(sections: tuple[views.Section, ...]) -> frozenset[Layer]:
    """The layers that anything on this sheet has marks in: no toggle that does nothing."""
    return frozenset(
        mark.layer
        for section in sections
        for card in section.cards
        for view in ((card.shown,) if card.shown else ()) + card.others
        for mark in view.seen.marks
    )


def _style() -> str:
    """The style sheet, with one rule per layer for its check box."""
    source = (files("cropper.proof") / "templates" / "sheet.css").read_text("utf-8")
    rules = []
    for name in LAYERS:
        key = name.layer.value
        if not name.at_first:
            rules.append(f".card .o-{key} {{ display: none; }}")
        rules.append(f"body:has(#show-{key}:not(:checked)) .card .o-{key} {{ display: none; }}")
        rules.append(
            f"body:has(#show-{key}:checked) .card .o-{key}:not(.never) {{ display: inline; }}"
        )
    rules += [
        f"body:has(#state-{slug}:not(:checked)) .card.is-{slug} {{ display: none; }}"
        for slug in map(words.slug, Verdict)
    ]
    return source.replace("@HIDDEN@", "\n".join(rules))


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("cropper.proof", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
    )
    environment.globals["drop"] = DROPS
    environment.filters.update(
        px=_px,
        points=_points,
        slug=words.slug,
        said=words.said,
        tallied=_tallied,
        counted=_counted,
        veil_path=_veil_path,
        outside_path=_outside_path,
        standing=_standing,
    )
    return environment


def _px(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def _points(corners: Iterable[Point]) -> str:
    return " ".join(f"{_px(corner.x)},{_px(corner.y)}" for corner in corners)


def _veil_path(veil: Veil) -> str:
    """The outer box with its hole, for the even-odd rule."""
    outer, hole = veil.outer, veil.hole
    # A hair wider than the picture: no seam of it may shine through at the edge.
    seam = 0.01 * outer.width
    path = (
        f"M{_px(outer.x0 - seam)} {_px(outer.y0 - seam)}H{_px(outer.x1 + seam)}"
        f"V{_px(outer.y1 + seam)}H{_px(outer.x0 - seam)}Z"
    )
    if not veil.round_hole:
        return path + (
            f"M{_px(hole.x0)} {_px(hole.y0)}H{_px(hole.x1)}V{_px(hole.y1)}H{_px(hole.x0)}Z"
        )
    radius, y = _px(hole.width / 2), _px(hole.centre.y)
    return path + (
        f"M{_px(hole.x0)} {y}A{radius} {radius} 0 1 0 {_px(hole.x1)} {y}"
        f"A{radius} {radius} 0 1 0 {_px(hole.x0)} {y}Z"
    )


def _outside_path(whole: views.Whole) -> str:
    """Everything of the master outside the crop, for the even-odd rule."""
    box = whole.window.box
    corners = "L".join(f"{_px(corner.x)} {_px(corner.y)}" for corner in whole.corners)
    return f"M0 0H{_px(box.x1)}V{_px(box.y1)}H0ZM{corners}Z"


def _standing(rules: tuple[views.Rule, ...]) -> str:
    """How many rules do not hold, as said after the number of rules."""
    counts = words.tally([rule.verdict for rule in rules])
    parts = [
        f"{count} {verdict.word}"
        for verdict, count in counts
        if count and verdict is not Verdict.HOLDS
    ]
    return ": " + ", ".join(parts) if parts else ", all good"
