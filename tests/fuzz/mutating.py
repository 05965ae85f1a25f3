"""Broken files from right ones: bytes changed, lost, repeated, cut; numbers and words made wild."""

from __future__ import annotations

from random import Random

WILD = (
    b"\x00",
    b"\xff" * 4,
    b"-1",
    b"0",
    b"1e999",
    b"nan",
    b"99999999999999999999",
    b"9" * 400,
    b"../../x",
    b"'; --",
    b"\xf0\x9f\xa7\xb6",
    b"\xed\xa0\x80",
    b"[" * 3000,
    b"{" * 3000,
    b'"""',
    b"\r\n\r\n",
    b"a" * 20_000,
    b"<!ENTITY x SYSTEM 'file:///etc/passwd'>",
    b"&x;" * 50,
    b"2026-02-30",
    b"=1+1",
    b"null",
    b"true",
    b"{}",
    b"[]",
)


def mutated(data: bytes, rng: Random) -> bytes:
    """One to eight wounds at random places."""
    wounded = bytearray(data)
    for _ in range(rng.choice((1, 1, 2, 3, 8))):
        if not wounded:
            return bytes(wounded)
        at = rng.randrange(len(wounded))
        rng.choice((_flip, _flip, _set, _cut, _lose, _repeat, _put, _swap))(wounded, at, rng)
    return bytes(wounded)


def _flip(data: bytearray, at: int, rng: Random) -> None:
    data[at] ^= 1 << rng.randrange(8)


def _set(data: bytearray, at: int, rng: Random) -> None:
    data[at] = rng.choice((0, 1, 127, 128, 255, rng.randrange(256)))


def _cut(data: bytearray, at: int, rng: Random) -> None:
    del rng
    del data[at:]


def _lose(data: bytearray, at: int, rng: Random) -> None:
    del data[at : at + rng.choice((1, 2, 16, 200))]


def _repeat(data: bytearray, at: int, rng: Random) -> None:
    data[at:at] = data[at : at + rng.choice((1, 8, 64, 400))] * rng.choice((1, 2, 40))


def _put(data: bytearray, at: int, rng: Random) -> None:
    data[at:at] = rng.choice(WILD)


def _swap(data: bytearray, at: int, rng: Random) -> None:
    wild = rng.choice(WILD)
    data[at : at + len(wild)] = wild
