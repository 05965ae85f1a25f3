"""Arithmetic that takes one box or many, so that every rule is written once.

One box is plain floats, many are arrays that broadcast: a float costs a twentieth of an array of
one. Only what the operators do not give stands here.
"""

from __future__ import annotations

import math
from typing import overload

import numpy as np
from numpy.typing import NDArray

Many = NDArray[np.float64]
Amount = float | Many
Truth = bool | NDArray[np.bool_]


@overload
def higher(first: float, second: float) -> float: ...
@overload
def higher(first: Amount, second: Amount) -> Amount: ...
def higher(first: Amount, second: Amount) -> Amount:
    """The greater of two, element by element."""
    if isinstance(first, float) and isinstance(second, float):
        return max(first, second)
    return np.maximum(first, second)


@overload
def lower(first: float, second: float) -> float: ...
@overload
def lower(first: Amount, second: Amount) -> Amount: ...
def lower(first: Amount, second: Amount) -> Amount:
    """The lesser of two, element by element."""
    if isinstance(first, float) and isinstance(second, float):
        return min(first, second)
    return np.minimum(first, second)


def either(truth: Truth, yes: Amount, no: Amount) -> Amount:
    """``yes`` where it is true, ``no`` elsewhere."""
    if isinstance(truth, np.ndarray):
        return np.where(truth, yes, no)
    return yes if truth else no


def floored(value: Amount) -> Amount:
    """The greatest whole number not above."""
    return float(math.floor(value)) if isinstance(value, float) else np.floor(value)


def ceiled(value: Amount) -> Amount:
    """The least whole number not below."""
    return float(math.ceil(value)) if isinstance(value, float) else np.ceil(value)


def squared(value: Amount) -> Amount:
    """A product, not a power: the same to the last bit for one and for many."""
    return value * value


def magnitude(value: Amount) -> Amount:
    """Without its sign."""
    return abs(value) if isinstance(value, float) else np.abs(value)


def root(value: Amount) -> Amount:
    """The square root."""
    return math.sqrt(value) if isinstance(value, float) else np.sqrt(value)


def distance(across: Amount, down: Amount) -> Amount:
    """Euclid's; numpy's for one box too, as :func:`math.hypot` differs in the last bit."""
    return np.hypot(across, down)


def beyond(value: Amount, least: Amount, most: Amount) -> Amount:
    """How far outside a band; 0 within."""
    below, above = least - value, value - most
    if isinstance(below, float) and isinstance(above, float):
        return max(0.0, below, above)
    return np.maximum(0.0, np.maximum(below, above))
