"""Marked proofs for a client: small pictures of the chosen crops, never among the deliverables."""

from __future__ import annotations

import io
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby
from pathlib import Path
from typing import Final

from cropper.deliverable.carrying import carried_on
from cropper.deliverable.delivering import Finished, Order, deliver_all
from cropper.deliverable.naming import first_free, folded
from cropper.deliverable.packets import xmp
from cropper.deliverable.proof_mark import (
    LONG_EDGE_PX,
    WORDS,
    Clear,
    extent_on_proof,
    marked,
    on_proof,
    place_for,
    places_on_faces,
    round_eyes,
)
from cropper.deliverable.words import Words, cleaned
from cropper.deliverable.writing import write_whole
from cropper.destination.destination import Destination, Finish, ShapeRange, Surround
from cropper.destination.naming import file_stem
from cropper.disk import plain
from cropper.errors import (
    EXIT_CANNOT,
    EXIT_DONE,
    EXIT_SOME_FAILED,
    CropperError,
    DeliveryError,
    MasterError,
    MisuseError,
)
from cropper.geometry import Crop, Size
from cropper.job.file_names import recipient_folder
from cropper.job.plan import Plan
from cropper.job.store import JobFolder
from cropper.job.wanted import Item, owed
from cropper.job.wording import read_words, words_for
from cropper.master.opening import master_digest, open_master

CLIENT_PROOFS: Final = "client_proofs"
EVERYBODY: Final = "all"
MADE_BY: Final = b"client proof made by cropper"
"""A comment in every proof: what bears it may be written anew."""
QUALITY: Final = 85
LONGEST_WORDS: Final = 80
"""Letters of a mark (house: more cannot be read across a picture)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClientProof:
    """One proof, or why there is none."""

    version: str
    destination: str
    recipient: str
    path: Path
    fault: str = ""


def write_client_proofs(
    job: Path,
    plan: Plan,
    *,
    recipient: str,
    text: str = WORDS,
    progress: Callable[[int, int, str], None] = lambda *_: None,
) -> tuple[ClientProof, ...]:
    """Marked proofs of every crop that goes to ``recipient`` ("all": to anybody), rivals too.

    Destinations of one recipient that show the same crop share one proof, named by the first.
    Raises :class:`MisuseError` for a recipient nobody knows or words that cannot stand.
    """
    said = cleaned(Words(headline=text))[0].headline
    if not said or len(said) > LONGEST_WORDS:
        raise MisuseError(
            f"a proof's mark has 1 to {LONGEST_WORDS} letters", way_out="Give shorter --proof-words"
        )
    items = _of(plan, recipient)
    made = []
    for proof in _made(job, items, said):
        made.append(proof)
        progress(len(made), len(items), proof.path.name)
    return tuple(made)


def run_client_proofs(
    job: Path,
    *,
    recipient: str,
    text: str | None = None,
    progress: Callable[[int, int, str], None] = lambda *_: None,
) -> tuple[ClientProof, ...]:
    """The same for the job in the folder ``job``, held by this run alone."""
    folder = JobFolder(job)
    folder.must_read()
    words = WORDS if text is None else text
    with folder.held():
        return write_client_proofs(
            job, folder.must_read(), recipient=recipient, text=words, progress=progress
        )


def exit_code(made: Collection[ClientProof]) -> int:
    """0, or 6 when some failed, or 1 when all did."""
    failed = sum(bool(one.fault) for one in made)
    if not failed and made:
        return EXIT_DONE
    return EXIT_SOME_FAILED if failed < len(made) else EXIT_CANNOT


def _of(plan: Plan, recipient: str) -> list[Item]:
    items = owed(plan, everything=True).items
    if recipient.casefold() == EVERYBODY:
        return list(items)
    mine = [one for one in items if folded(one.destination.recipient) == folded(recipient)]
    if not mine:
        known = sorted({one.destination.recipient for one in items if one.destination.recipient})
        there = f"There are {', '.join(known)}" if known else "None of its destinations names one"
        raise MisuseError(
            f"nothing of this job goes to a recipient '{recipient}'",
            way_out=f"{there}; or say {EVERYBODY}",
        )
    return mine


def _made(job: Path, items: list[Item], text: str) -> Iterator[ClientProof]:
    taken: set[str] = set()
    for _, group in groupby(items, key=lambda one: one.master.version):
        alike: dict[Look, list[Item]] = {}
        for one in group:
            alike.setdefault(_look(one), []).append(one)
        mine = [(ones[0], _path(job, ones[0], taken)) for ones in alike.values()]
        made: dict[Path, ClientProof] = {}
        try:
            for proof in _of_one_master(job, mine, text):
                made[proof.path] = proof
        except MasterError as error:
            for item, path in mine:
                made.setdefault(path, _proof(item, path, str(error)))
        for ones, (_, path) in zip(alike.values(), mine, strict=True):
            yield from (_proof(one, path, made[path].fault) for one in ones)


Look = tuple[str, Crop, str]
"""What makes two proofs of a master the same picture: its recipient, crop, and filling."""


def _look(item: Item) -> Look:
    finish = _filled_alike(item.destination.finish)
    return item.destination.recipient, item.proposal.crop, repr(finish)


def _of_one_master(job: Path, mine: list[tuple[Item, Path]], text: str) -> Iterator[ClientProof]:
    first = mine[0][0].master
    path = first.located(job)
    if master_digest(path) != first.sha256:
        raise MasterError(f"{path} has changed since it was planned", way_out="Plan it again")
    orders = (Order(crop=one.proposal.crop, destination=_small(one)) for one, _ in mine)
    words, master = read_words(job), open_master(path)
    for (item, at), finished in zip(mine, deliver_all(master, orders), strict=True):
        worded = words_for(
            words,
            version=first.version,
            destination=item.destination.name,
            recipient=item.destination.recipient,
        )
        try:
            said, _ = carried_on(worded.words, master.own_words)
            _put(at, _marked(item, finished, text, said))
        except CropperError as error:
            yield _proof(item, at, str(error))
        else:
            yield _proof(item, at)


def _proof(item: Item, path: Path, fault: str = "") -> ClientProof:
    return ClientProof(
        version=item.master.version,
        destination=item.destination.name,
        recipient=item.destination.recipient,
        path=path,
        fault=fault,
    )


def _path(job: Path, item: Item, taken: set[str]) -> Path:
    stem = file_stem(
        "{version}_{destination}_PROOF",
        {"version": item.master.version, "destination": item.destination.name},
    )
    recipient = item.destination.recipient
    below = f"{recipient_folder(recipient)}/" if recipient else ""
    name = first_free(f"{below}{stem}.jpg", taken)
    taken.add(folded(name))
    return job / CLIENT_PROOFS / name


def _small(item: Item) -> Destination:
    """A screen's picture of the crop, whole, its pixels kept for the mark."""
    box = item.proposal.crop.box
    shape = Fraction(box.width, box.height)
    return Destination(
        name=item.destination.name,
        title="Client proof",
        shape=ShapeRange(shape, shape),
        long_edge_px=LONG_EDGE_PX,
        may_be_smaller=True,
        finish=_filled_alike(item.destination.finish),
    )


def _filled_alike(finish: Finish) -> Finish:
    """Every pixel kept, and what lies past the master filled as in the finished file."""
    colour = finish.border_colour if finish.fill is Surround.BORDER else ""
    return Finish(format="png", fill=finish.fill, border_colour=colour)


def _marked(item: Item, finished: Finished, text: str, words: Words) -> bytes:
    from PIL import Image  # noqa: PLC0415 - loads the picture library

    if finished.fault is not None or finished.size is None:
        raise finished.fault or DeliveryError("nothing was made")
    size = finished.size
    clear = _clear(item, item.proposal.crop, size)
    place = place_for(text, size, clear)
    if place is None:
        raise DeliveryError(
            "the mark has no place where it would not cover the eyes",
            way_out="Give shorter --proof-words",
        )
    told = replace(words, headline=text, usage_terms=text)
    with Image.open(io.BytesIO(finished.data)) as picture, io.BytesIO() as file:
        proof = marked(picture, text, place)
        for line in places_on_faces(text, clear):
            proof = marked(proof, text, line)
        proof.save(
            file,
            "JPEG",
            quality=QUALITY,
            icc_profile=picture.info.get("icc_profile"),
            xmp=xmp(cleaned(told)[0]),
            comment=MADE_BY,
        )
        return file.getvalue()


def _clear(item: Item, crop: Crop, size: Size) -> Clear:
    people = item.master.finding.subjects
    heads = tuple(extent_on_proof(one.head_box, crop, size) for one in people)
    eyes = tuple(
        zone
        for one in people
        for zone in round_eyes(
            on_proof(one.left_eye, crop, size), on_proof(one.right_eye, crop, size)
        )
    )
    return Clear(heads=heads, eyes=eyes)


def _put(path: Path, data: bytes) -> None:
    """Write the proof; a file there that is no proof of ours is left alone."""
    try:
        there = plain(path).read_bytes() if path.exists() else None
    except OSError as error:
        raise DeliveryError(
            f"{path} cannot be read ({error.strerror or error})", way_out="Look what is there"
        ) from error
    if there is not None and MADE_BY not in there:
        raise DeliveryError(
            f"{path} is no proof of cropper's, and is left as it is", way_out="Move it away"
        )
    if there != data:
        write_whole(path, data, replace=there is not None)
