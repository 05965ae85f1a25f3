"""Matrix-and-curve profiles, read and written: the part of ICC that is plain arithmetic.

A profile of three curves and a matrix says: linear = curve(code), XYZ(D50) = matrix @ linear. Such
a master can be resampled in its own linear light and moved to the destination's with one matrix.
Anything else (tables, CMYK) goes through littleCMS (``conversion.py``). Read per ICC.1:2022
(sections 7.2, 7.3, 10.6 curveType, 10.18 parametricCurveType, 10.31 XYZType); written as version
2.4, which every reader of the last twenty years understands.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

GRID: Final = np.linspace(0.0, 1.0, 65536)
"""Code values at which a tone curve is tabulated: every one of 16 bit."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MatrixProfile:
    """``curves``: (3, 65536) linear light 0..1 at GRID. ``matrix``: linear RGB -> XYZ, D50."""

    curves: Floats
    matrix: Floats


def parsed(icc: bytes) -> MatrixProfile | None:
    """The curves and matrix of an RGB or grey profile; None when it is not of that kind."""
    tags = tag_contents(icc)
    if any(name in tags for name in (b"A2B0", b"A2B1", b"A2B2")) or icc[20:24] != b"XYZ ":
        return None
    try:
        if icc[16:20] == b"GRAY":
            one = curve(tags[b"kTRC"])
            return None if one is None else _grey(one)
        curves = [curve(tags[name]) for name in (b"rTRC", b"gTRC", b"bTRC")]
        columns = [_xyz(tags[name]) for name in (b"rXYZ", b"gXYZ", b"bXYZ")]
    except (KeyError, struct.error, IndexError, ValueError):
        return None
    usable = [one for one in curves if one is not None]
    matrix = np.array(columns).T
    if len(usable) < len(curves) or abs(float(np.linalg.det(matrix))) < 1e-6:  # noqa: PLR2004
        return None
    return MatrixProfile(curves=np.array(usable), matrix=matrix)


def _grey(one: Floats) -> MatrixProfile:
    """A grey profile as three equal channels in sRGB primaries: neutral stays neutral."""
    from cropper.master.spaces import SPACES  # noqa: PLC0415 - spaces writes through us

    return MatrixProfile(curves=np.array([one] * 3), matrix=SPACES["srgb"].matrix)


def tag_contents(icc: bytes) -> dict[bytes, bytes]:
    """Tag contents by signature; a table that points outside the profile yields nothing."""
    count = int.from_bytes(icc[128:132], "big")
    tags = {}
    for index in range(min(count, 100)):
        at = 132 + 12 * index
        name, offset, size = icc[at : at + 4], *struct.unpack(">II", icc[at + 4 : at + 12])
        tags[name] = icc[offset : offset + size]
    return tags


def _xyz(tag: bytes) -> tuple[float, float, float]:
    """An XYZType: three s15Fixed16 numbers."""
    if tag[:4] != b"XYZ ":
        raise ValueError("not an XYZType")
    x, y, z = struct.unpack(">iii", tag[8:20])
    return x / 65536, y / 65536, z / 65536


def curve(tag: bytes) -> Floats | None:
    """Linear light at GRID; None when the curve is not one that rises."""
    if tag[:4] == b"curv":
        values = _sampled(tag)
    elif tag[:4] == b"para":
        values = _parametric(tag)
    else:
        return None
    rising = bool(np.all(np.diff(values) >= 0)) and values[-1] > values[0]
    return values if rising and bool(np.all(np.isfinite(values))) else None


def _sampled(tag: bytes) -> Floats:
    """curveType: identity, one gamma (u8Fixed8), or samples with straight lines between."""
    count = int.from_bytes(tag[8:12], "big")
    if count == 0:
        return GRID.copy()
    if count == 1:
        return np.asarray(GRID ** (int.from_bytes(tag[12:14], "big") / 256))
    samples = np.frombuffer(tag[12 : 12 + 2 * count], ">u2").astype(np.float64) / 65535
    return np.interp(GRID, np.linspace(0, 1, len(samples)), samples)


_PARAMETERS: Final = (1, 3, 4, 5, 7)


def _parametric(tag: bytes) -> Floats:
    """parametricCurveType, functions 0..4 (ICC.1:2022, table 68)."""
    kind = int.from_bytes(tag[8:10], "big")
    count = _PARAMETERS[kind]
    given = [value / 65536 for value in struct.unpack(f">{count}i", tag[12 : 12 + 4 * count])]
    gamma, a, b, c, d, e, f = [*given, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0][:7]
    if kind == 0:
        return np.asarray(GRID**gamma)
    base = np.maximum(a * GRID + b, 0.0) ** gamma
    if kind in {1, 2}:
        turned = np.where(a * GRID + b >= 0, base + (c if kind == 2 else 0.0), c)  # noqa: PLR2004
        return np.asarray(turned, np.float64)
    return np.asarray(np.where(d <= GRID, base + e, c * GRID + f), np.float64)


def written(name: str, channels: int, samples: Floats, matrix: Floats) -> bytes:
    """A version 2.4 display profile: one curve for all channels, colorants of ``matrix`` (D50)."""
    tone = b"curv" + bytes(4) + struct.pack(">I", len(samples))
    tone += np.round(samples * 65535).astype(">u2").tobytes()
    text = name.encode("ascii")
    description = (
        b"desc" + bytes(4) + struct.pack(">I", len(text) + 1) + text + bytes(1 + 8 + 3 + 67)
    )
    tags = [(b"desc", description), (b"cprt", b"text" + bytes(4) + b"No rights reserved.\0")]
    tags.append((b"wtpt", _xyz_tag(D50)))
    if channels == 1:
        tags.append((b"kTRC", tone))
    else:
        colorants = zip((b"rXYZ", b"gXYZ", b"bXYZ"), matrix.T, strict=True)
        tags += [(signature, _xyz_tag(column)) for signature, column in colorants]
        tags += [(signature, tone) for signature in (b"rTRC", b"gTRC", b"bTRC")]
    return _laid_out(tags, b"GRAY" if channels == 1 else b"RGB ")


D50: Final = np.array([0.9642, 1.0, 0.8249])
"""The white of the profile connection space (ICC.1:2022, 7.2.16)."""


def _xyz_tag(values: Floats) -> bytes:
    """An XYZType."""
    return b"XYZ " + bytes(4) + struct.pack(">iii", *(round(float(v) * 65536) for v in values))


def _laid_out(tags: list[tuple[bytes, bytes]], space: bytes) -> bytes:
    """Header, tag table and contents; equal contents are stored once."""
    offset, table, body = 128 + 4 + 12 * len(tags), b"", b""
    placed: dict[bytes, int] = {}
    for signature, content in tags:
        if content not in placed:
            placed[content] = offset + len(body)
            body += content + bytes(-len(content) % 4)
        table += signature + struct.pack(">II", placed[content], len(content))
    total = offset + len(body)
    header = struct.pack(">I4sI4s4s4s", total, bytes(4), 0x02400000, b"mntr", space, b"XYZ ")
    header += struct.pack(">6H", 2026, 1, 1, 0, 0, 0) + b"acsp" + bytes(28)
    header += _xyz_tag(D50)[8:] + bytes(48)
    return header + struct.pack(">I", len(tags)) + table + body
