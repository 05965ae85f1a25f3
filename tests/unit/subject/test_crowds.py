"""A crowd costs no more than its largest faces."""

from __future__ import annotations

from typing import cast

import numpy as np
import pytest

from cropper.subject import mesh_finder
from cropper.subject.detecting import Sighting
from cropper.subject.engine import Engine
from cropper.subject.meshing import Face
from cropper.subject.pyramid import Pyramid


def face_at(seen: Sighting) -> Face:
    corners = np.array([[-0.5, -0.5, 0.0], [0.5, 0.5, 0.0]]) * seen.side
    points = np.resize(corners, (478, 3)) + np.array([seen.x, seen.y, 0.0])
    return Face(points, 0.0, 1.0, 1.8, 0.0)


def test_of_three_hundred_heads_the_largest_are_looked_at(monkeypatch: pytest.MonkeyPatch) -> None:
    looked: list[float] = []

    def confirmed(_engine: Engine, _pyramid: Pyramid, seen: Sighting) -> Face:
        looked.append(seen.side)
        return face_at(seen)

    monkeypatch.setattr(mesh_finder, "confirmed", confirmed)
    crowd = [Sighting(50.0 * i, 50.0, 20.0 + i % 37, 0.0, 0.9) for i in range(300)]
    nobody = Pyramid(np.zeros((10, 10, 3), np.uint8))
    faces = mesh_finder._confirmed(cast("Engine", None), nobody, crowd, ())
    assert len(faces) == mesh_finder.MOST_FACES
    assert looked == sorted((one.side for one in crowd), reverse=True)[: len(looked)]
    assert len(looked) == mesh_finder.MOST_FACES
