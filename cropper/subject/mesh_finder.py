"""The shipped finder: detectors over a pyramid, a mesh that confirms, a mask for the hair.

Order of looking: ordinary sizes; on normalised grey when nobody or somebody doubtful was found;
between the quarter turns; four times deeper when asked or nothing found; eight times when asked.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from functools import partial
from typing import Final

import numpy as np

from cropper.geometry import Point, Size
from cropper.subject import detecting, turn
from cropper.subject.agreeing import agreed
from cropper.subject.crown import axes_of
from cropper.subject.detecting import Sighting
from cropper.subject.engine import Engine, engine
from cropper.subject.face_subject import sharpness_at, subject_of
from cropper.subject.faceless import body_box, looked_closer
from cropper.subject.finders import Pixels
from cropper.subject.glimpsed import STRONG_SIGHTING, glimpsed, same_person
from cropper.subject.meshing import ASSURED, LEAST_PRESENCE, SURE_PRESENCE, Face, confirmed
from cropper.subject.persons import Person, faceless, persons
from cropper.subject.principal import question, ranked
from cropper.subject.pyramid import Pyramid
from cropper.subject.subject import Finding, Subject

DOUBTFUL: Final = 0.74
"""One detector alone: a covered face or a profile, or nothing at all. Kept only when the sighting
was strong, and then called estimated."""
UNSTEADY: Final = 0.04
"""Pupils that wander further than this, in distances between the eyes, are invented in part."""
MOST_FACES: Final = 30
"""So many faces, the largest, are looked at in full (a third of a second each); of a crowd's others
it is told where a head was seen."""
MOST_CLOSER: Final = 8
"""So many persons without a face, the largest, are looked at closer (half a second each)."""
_MIN_FACE_PX: Final = 8.0


class MeshFinder:
    """Finds eyes and heads with the native engine, one set of it per thread."""

    name = "mesh and bodies"

    def find(self, pixels: Pixels, *, small_faces: bool = False) -> Finding:
        """Everybody in ``pixels`` (rows, columns, 3; uint8 sRGB, upright), in its coordinates."""
        if pixels.shape[2:] != (3,) or pixels.dtype != np.uint8:
            message = f"a finder needs 8-bit RGB, (rows, columns, 3), not {pixels.shape}"
            raise ValueError(message)
        size = Size(pixels.shape[1], pixels.shape[0])
        pyramid = Pyramid(pixels)
        native = engine()
        seen = detecting.ordinary(native, pyramid)
        faces, heads, bodies = _everybody(native, pyramid, seen, small_faces=small_faces)
        people = [subject_of(native, pyramid, face, faces) for face in faces]
        people += [one for one in heads if not any(same_person(one, other) for other in people)]
        people += glimpsed(seen, people, size, partial(sharpness_at, pyramid))
        subjects = ranked(people, size)
        return Finding(
            size=size,
            subjects=subjects,
            problem=question(subjects, bodies),
            finder=self.name,
            bodies=tuple(body_box(one) for one in bodies),
        )


def _possible(face: Face, seen: Sighting) -> bool:
    """Worth reporting at all: sure, or doubtful after a strong sighting."""
    if face.side < _MIN_FACE_PX or face.presence < LEAST_PRESENCE:
        return False
    if face.assurance >= ASSURED:
        return True
    return (
        face.assurance >= DOUBTFUL
        and seen.score >= STRONG_SIGHTING
        and face.presence >= SURE_PRESENCE
        and not face.ambiguous
    )


def _same(one: Face, other: Face) -> bool:
    """Whether two meshes lie on one face."""
    near = math.dist(one.middle, other.middle)
    return near < 0.5 * max(one.side, other.side)


def _added(faces: list[Face], found: Iterable[Face]) -> list[Face]:
    """One mesh per face, the most assured of each."""
    kept: list[Face] = []
    for face in sorted([*faces, *found], key=lambda f: (-f.assurance, f.middle)):
        if not any(_same(face, other) for other in kept):
            kept.append(face)
    return kept


def _confirmed(
    native: Engine, pyramid: Pyramid, seen: Iterable[Sighting], known: Sequence[Face]
) -> list[Face]:
    """Faces at sightings that are not known yet."""
    found: list[Face] = []
    for sighting in sorted(seen, key=lambda one: (-one.side, one.x, one.y)):
        if len(known) + len(found) >= MOST_FACES:
            break
        if any(
            math.dist(face.middle, (sighting.x, sighting.y)) < 0.35 * face.side
            for face in known
            if face.sure
        ):
            continue
        face = confirmed(native, pyramid, sighting)
        if face is not None and _possible(face, sighting):
            found.append(face)
    return found


def _everybody(
    native: Engine, pyramid: Pyramid, seen: list[Sighting], *, small_faces: bool
) -> tuple[list[Face], list[Subject], list[Person]]:
    """Faces, heads without a face, and persons without a head.

    Looks at what was ``seen`` (and adds what it sees deeper), then at persons without a face, then
    further and further, until somebody is surely found.
    """
    faces = _added([], _confirmed(native, pyramid, seen, ()))
    everybody = persons(native, pyramid, small=small_faces)
    heads: list[Subject] = []
    bodies: list[Person] = []
    left = faceless(everybody, [_eyes_and_height(face) for face in faces])
    left.sort(key=lambda one: -one.area)
    bodies += left[MOST_CLOSER:]
    for person in left[:MOST_CLOSER]:
        closer = looked_closer(native, pyramid, person, seen)
        if closer.face is not None:
            faces = _added(faces, [closer.face])
        elif closer.head is not None:
            heads.append(closer.head)
        else:
            bodies.append(person)
    if not any(face.sure for face in faces):
        faces = _harder(native, pyramid, faces, explained=bool(everybody) and not bodies)
        faces = [face for face in faces if face.sure or _on_somebody(face, everybody)]
    if small_faces or not (faces or heads):
        depths: tuple[int, ...] = (4, 8) if small_faces else (4,)
        for times in depths:
            small = detecting.deeper(native, pyramid, times)
            seen += small
            faces = _added(faces, _confirmed(native, pyramid, small, faces))
    steady = [_steadied(native, pyramid, face) for face in faces]
    still = faceless(bodies, [_eyes_and_height(face) for face in steady])
    return sorted(steady, key=lambda face: face.middle), heads, still


def _eyes_and_height(face: Face) -> tuple[Point, float]:
    """The middle of a face's eyes, and the height of its head."""
    axes = axes_of(face)
    return Point(float(axes.eyes[0]), float(axes.eyes[1])), 2 * axes.reach


def _steadied(native: Engine, pyramid: Pyramid, face: Face) -> Face:
    """A face whose pupils wander, meshed on normalised grey as well; the steady one is taken.

    In the light of one colour the mesh sees too little; something over the eyes stays unsteady. A
    face that is turned away or not sure is taken as most of many meshes see it.
    """
    if face.spread <= turn.WANDERING_PALE:
        return face
    if face.spread > UNSTEADY and (turn.in_profile(face) or not face.sure):
        return agreed(native, pyramid, Sighting(*face.middle, face.side, 0.0, 1.0)) or face
    seen = Sighting(*face.middle, face.side, face.angle_deg, 1.0)
    other = confirmed(native, pyramid.in_grey, seen)
    if other is None or not other.sure or not _same(face, other):
        return face
    return other if other.spread <= turn.WANDERING_PALE else face


def _on_somebody(face: Face, everybody: Sequence[Person]) -> bool:
    """Whether a face that is not sure lies on a person; nothing speaks against it if none is."""
    x, y = face.middle
    return not everybody or any(
        one.box.x0 <= x <= one.box.x1 and one.box.y0 <= y <= one.box.y1 for one in everybody
    )


def _harder(native: Engine, pyramid: Pyramid, faces: list[Face], *, explained: bool) -> list[Face]:
    """On normalised grey, in quarter-turned tiles, then between the quarter turns.

    ``explained``: everybody in the picture has a head already, if not a sure face; then only the
    first is worth its time.
    """
    grey = pyramid.in_grey
    looks: tuple[tuple[Pyramid, Callable[[Engine, Pyramid], list[Sighting]]], ...] = (
        (grey, detecting.ordinary),
        (pyramid, detecting.lying),
        (pyramid, detecting.slanted),
        (grey, detecting.slanted),
    )
    for pictures, look in looks[:1] if explained else looks:
        faces = _added(faces, _confirmed(native, pictures, look(native, pictures), faces))
        if any(face.sure for face in faces):
            break
    return faces
