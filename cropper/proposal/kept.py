"""Blocks of boxes looked at: kept for whoever asks again, and the least box among them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from cropper.proposal.searching import Block
from cropper.proposal.wishes import Found, Wish


class Kept:
    """Blocks made when they are asked for, and kept for the next who asks."""

    def __init__(self, blocks: Iterator[Block]) -> None:
        self._made: list[Block] = []
        self._more = blocks

    def __iter__(self) -> Iterator[Block]:
        yield from self._made
        for block in self._more:
            self._made.append(block)
            yield block


def least_of(blocks: Iterable[Block], wish: Wish, best: Found | None = None) -> Found | None:
    """The least box of many blocks, if it beats ``best``."""
    found: Found | None = None
    for block in blocks:
        here = block.least(wish, found or best)
        if here is not None and here.beats(found or best):
            found = here
    return found
