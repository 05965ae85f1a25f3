"""Throw broken files at every reader; each must end in a value or a clear refusal, in time.

A find is: a traceback, a crash of the process, more than 20 seconds, more than 2 GB, a refusal
without words, or a picture cut short that passed for whole.
"""

from __future__ import annotations

import multiprocessing
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from random import Random

from tests.fuzz.child import serve
from tests.fuzz.corpus import CORPORA
from tests.fuzz.mutating import mutated

PATIENCE_S = 20.0
MOST_BYTES = 2_000_000_000
LEAST_WORDS = 12
CUTS = (0.3, 0.5, 0.7, 0.85)
"""Shares of a picture that are left when it is cut; each must be refused."""


@dataclass(frozen=True, slots=True)
class Input:
    """A broken file, and whether only a refusal is right."""

    target: str
    name: str
    data: bytes
    only_refusal: bool = False


@dataclass(frozen=True, slots=True)
class Find:
    """An input that was not answered as it must be, and what came instead."""

    broken: Input
    what: str

    def keep(self, folder: Path) -> Path:
        """The input as a file, beside what it did."""
        folder.mkdir(parents=True, exist_ok=True)
        stem = f"{self.broken.target}-{sha256(self.broken.data).hexdigest()[:12]}"
        file = folder / f"{stem}{Path(self.broken.name).suffix}"
        file.write_bytes(self.broken.data)
        (folder / f"{stem}.txt").write_text(self.what, encoding="utf-8")
        return file


@dataclass(slots=True)
class Hunt:
    """How it went: answers by target and kind, and the finds."""

    answers: Counter[tuple[str, str]] = field(default_factory=Counter)
    finds: list[Find] = field(default_factory=list)


def inputs(each: int, seed: int, targets: tuple[str, ...] = tuple(CORPORA)) -> Iterator[Input]:
    """``each`` broken files for every target, the same for the same seed; whole ones first."""
    for target in targets:
        rng = Random(f"{seed} {target}")  # noqa: S311 - repeatable, not secret
        corpus = CORPORA[target]()
        for name, data in corpus.items():
            yield Input(target, name, data)
            if target == "picture":
                for share in CUTS:
                    yield Input(target, name, data[: int(len(data) * share)], only_refusal=True)
        names = sorted(corpus)
        for _ in range(each):
            name = rng.choice(names)
            yield Input(target, name, mutated(corpus[name], rng))


class _Child:
    """The process that reads; a new one when it broke."""

    def __init__(self) -> None:
        context = multiprocessing.get_context("spawn")
        self._pipe, theirs = context.Pipe()
        self._folder = tempfile.TemporaryDirectory()
        words = (theirs, self._folder.name)
        self._process = context.Process(target=serve, args=words, daemon=True)
        self._process.start()
        theirs.close()

    def answer(self, broken: Input) -> tuple[str, str, int]:
        """How it went; "crashed" or "hung" when the process did not answer."""
        try:
            self._pipe.send((broken.target, broken.name, broken.data))
            if not self._pipe.poll(PATIENCE_S):
                return "hung", f"no answer in {PATIENCE_S:.0f} s", 0
            how, said, peak = self._pipe.recv()
        except (EOFError, BrokenPipeError, ConnectionResetError):
            self._process.join(5)
            return "crashed", f"the process ended with {self._process.exitcode}", 0
        return how, said, peak

    def stop(self) -> None:
        """Away with it."""
        self._process.kill()
        self._process.join()
        self._pipe.close()
        self._folder.cleanup()


def hunt(
    broken_files: Iterator[Input], heard: Callable[[int, Hunt], None] = lambda _n, _h: None
) -> Hunt:
    """Every input once, in a process of its own kind."""
    went = Hunt()
    child = _Child()
    try:
        for number, broken in enumerate(broken_files, 1):
            how, said, peak = child.answer(broken)
            went.answers[broken.target, how] += 1
            what = _wrong(broken, how, said, peak)
            if what:
                went.finds.append(Find(broken, what))
            if how in {"hung", "crashed"} or peak > MOST_BYTES:
                child.stop()
                child = _Child()
            heard(number, went)
    finally:
        child.stop()
    return went


def _wrong(broken: Input, how: str, said: str, peak: int) -> str:
    if how in {"broke", "hung", "crashed"}:
        return f"{how}: {said}"
    if peak > MOST_BYTES:
        return f"it took {peak / 1e9:.1f} GB"
    if broken.only_refusal and how == "value":
        return "a picture cut short passed for whole"
    if how == "refused" and len(said) < LEAST_WORDS:
        return f"it was refused without words: {said!r}"
    return ""
