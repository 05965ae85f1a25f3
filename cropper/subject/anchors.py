"""What single-shot detectors answer, made into boxes: fixed anchors, decoding, merging.

The layouts are those that the models were published with: short range 128 px with strides 8 and
16, full range 192 px with stride 4, body 224 px with strides 8, 16 and 32.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

_MOST_LOGIT: Final = 100.0
_SAME: Final = 0.3
"""Intersection over union above which boxes are one: the published value."""


def anchors(side: int, layers: tuple[tuple[int, int], ...]) -> NDArray[np.float64]:
    """Middles of all anchors, (n, 2) in 0..1; ``layers`` are (stride in px, anchors per place)."""
    made = []
    for stride, each in layers:
        count = side // stride
        places = (np.arange(count) + 0.5) / count
        across, down = np.meshgrid(places, places)
        made.append(np.repeat(np.column_stack([across.ravel(), down.ravel()]), each, axis=0))
    return np.concatenate(made)


def level_anchors(side: int) -> NDArray[np.float64]:
    """Anchors of the person detector, (n, 4): middle y, middle x, height, width, in px.

    Five levels with strides 8 to 128; at each place three sizes from 3 strides up, a third of an
    octave apart, square, wide and tall (as its own metadata lists them).
    """
    made = []
    for stride in (8, 16, 32, 64, 128):
        places = (np.arange(math.ceil(side / stride)) + 0.5) * stride
        down, across = np.meshgrid(places, places, indexing="ij")
        sizes = [
            (
                3 * stride * 2 ** (octave / 3) / math.sqrt(shape),
                3 * stride * 2 ** (octave / 3) * math.sqrt(shape),
            )
            for octave in range(3)
            for shape in (1.0, 2.0, 0.5)
        ]
        middles = np.repeat(np.column_stack([down.ravel(), across.ravel()]), len(sizes), axis=0)
        made.append(np.hstack([middles, np.tile(np.array(sizes), (down.size, 1))]))
    return np.concatenate(made)


@dataclass(frozen=True, slots=True)
class Boxes:
    """Detections, best first, in shares of the picture's side.

    ``boxes`` (n, 4) are middle x, middle y, width, height; ``keys`` (n, k, 2) the key points;
    ``scores`` (n,) 0..1.
    """

    boxes: NDArray[np.float64]
    keys: NDArray[np.float64]
    scores: NDArray[np.float64]


def decoded(
    answers: NDArray[np.float32],
    logits: NDArray[np.float32],
    middles: NDArray[np.float64],
    side: int,
    least: float,
) -> Boxes:
    """Detections of at least the score ``least``, those of one face merged by their weights."""
    scores = 1 / (1 + np.exp(-np.clip(logits.astype(np.float64), -_MOST_LOGIT, _MOST_LOGIT)))
    kept = np.flatnonzero(scores >= least)
    order = kept[np.argsort(-scores[kept], kind="stable")]
    values = answers.astype(np.float64).reshape(len(middles), -1, 2)[order] / side
    at = middles[order][:, None, :]
    boxes = np.concatenate([values[:, 0] + at[:, 0], values[:, 1]], axis=1)
    return _merged(Boxes(boxes, values[:, 2:] + at, scores[order]))


def _overlaps(one: NDArray[np.float64], others: NDArray[np.float64]) -> NDArray[np.float64]:
    """Intersection over union of a box with others."""
    low = np.maximum(one[:2] - one[2:] / 2, others[:, :2] - others[:, 2:] / 2)
    high = np.minimum(one[:2] + one[2:] / 2, others[:, :2] + others[:, 2:] / 2)
    shared = np.clip(high - low, 0, None).prod(axis=1)
    areas = one[2:].prod() + others[:, 2:].prod(axis=1) - shared
    shares: NDArray[np.float64] = shared / np.maximum(areas, 1e-12)
    return shares


def _merged(found: Boxes) -> Boxes:
    """Each group of boxes on one thing as its mean, weighted by the scores; the best score."""
    left = np.arange(len(found.scores))
    boxes, keys, scores = [], [], []
    while len(left):
        same = _overlaps(found.boxes[left[0]], found.boxes[left]) > _SAME
        same[0] = True
        group, left = left[same], left[~same]
        weight = found.scores[group] / found.scores[group].sum()
        boxes.append(weight @ found.boxes[group])
        keys.append(np.tensordot(weight, found.keys[group], axes=1))
        scores.append(found.scores[group[0]])
    count = found.keys.shape[1]
    return Boxes(
        np.array(boxes).reshape(-1, 4),
        np.array(keys).reshape(-1, count, 2),
        np.array(scores),
    )
