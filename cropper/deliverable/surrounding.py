"""A crop with all that is put round it: its border, its wrap, or what fills past the master.

A crop may reach past the master's edges only where the destination's finish says what to fill the
rest with: a colour, or the backdrop carried on where it is measurably plain. At least a third of
the frame's width and height must be photographed.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from fractions import Fraction
from typing import Any

from cropper.deliverable.conversion import refuse_changed_profile
from cropper.deliverable.rendering import Darkroom, Rendered
from cropper.deliverable.sizing import Sized, sized
from cropper.deliverable.surrounds import Edge, Sides, extended, framed, wrapped
from cropper.destination.destination import Destination, Finish, Surround
from cropper.errors import DeliveryError
from cropper.geometry import Crop, PixelBox, Size
from cropper.proposal.filling import LEAST_PHOTOGRAPHED


@dataclass(frozen=True, slots=True, kw_only=True)
class Added:
    """What was put round the picture: ``kind`` 'border', 'backdrop' or 'wrap', in px of the file.

    ``colour`` is the border's ('#rrggbb', sRGB); else None. A wrap is mirrored, and is told
    only where nothing else was put round the picture; the notes tell of both.
    """

    kind: str
    left: int
    top: int
    right: int
    bottom: int
    colour: str | None = None

    def mapping(self) -> dict[str, Any]:
        """As plain values, keys as the fields."""
        return asdict(self)


def rendered_in_frame(
    room: Darkroom, crop: Crop, destination: Destination
) -> tuple[Rendered, Added | None]:
    """The crop as the destination wants it: its frame filled, its border or mirrored wrap on."""
    made, added = _in_frame(room, crop, destination)
    px = destination.finish.mirror_px
    if not px:
        return made, added
    return wrapped(made, px), added or Added(kind="wrap", left=px, top=px, right=px, bottom=px)


def _in_frame(
    room: Darkroom, crop: Crop, destination: Destination
) -> tuple[Rendered, Added | None]:
    """The crop with its frame filled and its border on."""
    finish = destination.finish
    missing = past_the_master(crop, room.master.size)
    if not any(missing) or finish.fill is Surround.NOTHING:
        made = _rendered(room, crop, destination)
        if not finish.border_px:
            return made, None
        return _bordered(made, Sides(*[finish.border_px] * 4), finish)
    return _filled(room, crop, destination, missing)


def past_the_master(crop: Crop, size: Size) -> Sides:
    """Master px by which the crop's box reaches past each edge."""
    box = crop.box
    return Sides(
        max(0, -box.x0), max(0, -box.y0), max(0, box.x1 - size.width), max(0, box.y1 - size.height)
    )


def _rendered(room: Darkroom, crop: Crop, destination: Destination) -> Rendered:
    finish = destination.finish
    if finish.profile_sha256:
        refuse_changed_profile(finish.profile, finish.profile_sha256)
    return room.render(crop, destination, intent=finish.intent, black_point=finish.black_point)


def _filled(
    room: Darkroom, crop: Crop, destination: Destination, missing: Sides
) -> tuple[Rendered, Added]:
    """The photographed part at its place in the frame, and the rest filled."""
    if crop.straighten_deg:
        raise DeliveryError(
            f"{destination.name}: a straightened crop cannot reach past the master",
            way_out="Take the straightening back, or keep the crop inside",
        )
    whole = sized(crop, destination)
    sides = _in_the_file(missing, crop, whole.size)
    inner = Size(
        whole.size.width - sides.left - sides.right, whole.size.height - sides.top - sides.bottom
    )
    _refuse_too_little(inner, whole.size, destination)
    made = _rendered(room, _inside(crop, missing), _just(inner, whole))
    if destination.finish.fill is Surround.BORDER:
        return _bordered(made, sides, destination.finish)
    for edge, by_px in zip((Edge.LEFT, Edge.TOP, Edge.RIGHT, Edge.BOTTOM), sides, strict=True):
        made = extended(made, edge, by_px) if by_px else made
    return made, Added(kind="backdrop", **sides._asdict())


def _in_the_file(missing: Sides, crop: Crop, whole: Size) -> Sides:
    """The missing master px in px of the finished file."""
    across = Fraction(whole.width, crop.box.width)
    down = Fraction(whole.height, crop.box.height)
    return Sides(*(round(px * per) for px, per in zip(missing, (across, down) * 2, strict=True)))


def _refuse_too_little(inner: Size, whole: Size, destination: Destination) -> None:
    across, down = Fraction(inner.width, whole.width), Fraction(inner.height, whole.height)
    if min(across, down) < LEAST_PHOTOGRAPHED:
        raise DeliveryError(
            f"{destination.name}: only {float(min(across, down)):.0%} of the frame would be "
            f"photographed; at least {float(LEAST_PHOTOGRAPHED):.0%} must be",
            way_out="Take a larger crop, or another version with more room",
        )


def _inside(crop: Crop, missing: Sides) -> Crop:
    box = crop.box
    return Crop(
        PixelBox(
            box.x0 + missing.left,
            box.y0 + missing.top,
            box.x1 - missing.right,
            box.y1 - missing.bottom,
        )
    )


def _just(inner: Size, whole: Sized) -> Destination:
    """The destination asking for the photographed part alone, at the same ppi."""
    return replace(
        whole.destination,
        delivered=inner,
        long_edge_px=None,
        turnable=False,
        page_mm=None,
        bleed_mm=Fraction(0),
        ppi=whole.ppi,
    )


def _bordered(made: Rendered, sides: Sides, finish: Finish) -> tuple[Rendered, Added]:
    colour = finish.border_colour or "#ffffff"
    done = framed(made, sides, colour, finish)
    return done, Added(kind="border", **sides._asdict(), colour=colour)
