"""A finished file as the manifest tells of it."""

from __future__ import annotations

from pathlib import PurePath

from cropper.deliverable.fragments import fragments
from cropper.deliverable.manifest import Delivered, crop_corners, rule_rows, trim_corners
from cropper.geometry import Size
from cropper.job.ledger import Entry
from cropper.job.wanted import Item
from cropper.job.wording import Worded
from cropper.proposal.delivering import lying_as


def delivered_row(file: str, item: Item, entry: Entry, worded: Worded) -> Delivered:
    """The row of one delivered file."""
    crop, delivered = item.proposal.crop, item.proposal.delivered
    said = fragments(crop, Size(item.master.width, item.master.height), delivered)
    size = Size(entry.width, entry.height)
    lying = lying_as(item.destination, item.proposal.crop.box.size)
    return Delivered(
        file=file,
        sha256=entry.sha256,
        bytes=entry.bytes,
        width=entry.width,
        height=entry.height,
        ppi=entry.ppi,
        destination=item.destination.name,
        outlet=item.outlet,
        recipient=item.destination.recipient,
        set=item.set_name,
        version=item.master.version,
        master=PurePath(item.master.file).name,
        master_sha256=item.master.sha256,
        crop=crop_corners(item.proposal.crop),
        trim=trim_corners(lying.trim, size),
        straighten_deg=item.proposal.crop.straighten_deg,
        proposed_by=item.proposal.proposed_by,
        verdict=str(item.proposal.verdict),
        rules=rule_rows(item.proposal.measures),
        media_fragment=said.media_fragment,
        media_fragment_percent=said.media_fragment_percent,
        iiif_region=said.iiif_region,
        iiif_request=said.iiif_request,
        svg_selector=said.svg_selector,
        region_left_out=said.left_out,
        notes=tuple(dict.fromkeys((*entry.notes, *worded.notes))),
        out_of_gamut=entry.out_of_gamut,
        credit_line=worded.credit_line,
        usage_terms=worded.words.usage_terms,
    )
