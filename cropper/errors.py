"""What can go wrong in a way that a person can act on, and the exit code of each kind.

A message names the thing, the place and the way out. Faults gain their place on the way up
(``fault.inside("story").inside("feed.toml")``). A programmer's mistake is a ``ValueError`` or
``TypeError`` and keeps its traceback.
"""

from __future__ import annotations

from typing import ClassVar, Final, Self

EXIT_DONE: Final = 0
EXIT_CANNOT: Final = 1
EXIT_MISUSED: Final = 2
EXIT_PRESET_AT_FAULT: Final = 3
EXIT_RIVALS_CLASH: Final = 4
EXIT_NEEDS_YOUR_EYE: Final = 5
EXIT_SOME_FAILED: Final = 6
EXIT_RULE_BROKEN: Final = 7
EXIT_NOT_TOLD: Final = 8
EXIT_OUR_FAULT: Final = 70

PRECEDENCE: Final = (
    EXIT_OUR_FAULT,
    EXIT_MISUSED,
    EXIT_PRESET_AT_FAULT,
    EXIT_NOT_TOLD,
    EXIT_SOME_FAILED,
    EXIT_CANNOT,
    EXIT_RIVALS_CLASH,
    EXIT_RULE_BROKEN,
    EXIT_NEEDS_YOUR_EYE,
    EXIT_DONE,
)
"""When several exit codes apply, the first of these that does is the one given."""


def weightiest(*codes: int) -> int:
    """The exit code to give when all of ``codes`` apply; 0 when there are none.

    >>> weightiest(0, 5, 6)
    6
    """
    return min(codes, key=PRECEDENCE.index, default=EXIT_DONE)


class CropperError(Exception):
    """Something a person can act on: what, where, and the way out."""

    exit_code: ClassVar[int] = EXIT_CANNOT

    def __init__(self, what: str, *, way_out: str = "", where: tuple[str, ...] = ()) -> None:
        super().__init__(what)
        self.what = what
        self.way_out = way_out
        self.where = where

    def inside(self, place: str) -> Self:
        """The same fault, said to lie inside ``place`` (outermost place last applied)."""
        return type(self)(self.what, way_out=self.way_out, where=(place, *self.where))

    def __str__(self) -> str:
        place = ".".join(self.where)
        said = f"{place}: {self.what}" if place else self.what
        return f"{said}. {self.way_out}" if self.way_out else said


NO_MEMORY: Final = (
    "this machine has not the memory for it. Close other programs, or use fewer --workers"
)


class MasterError(CropperError):
    """A picture that cannot be opened, trusted or afforded."""


class FinderError(CropperError):
    """The finding engine cannot run on this machine."""


class PresetError(CropperError):
    """A destination, or another TOML of the photographer's, does not say what it must."""

    exit_code: ClassVar[int] = EXIT_PRESET_AT_FAULT


class MisuseError(CropperError):
    """The command was given words that do not fit together."""

    exit_code: ClassVar[int] = EXIT_MISUSED


class JobError(CropperError):
    """The job folder cannot be read, written or trusted."""


class RivalsError(CropperError):
    """Rival versions would stand side by side."""

    exit_code: ClassVar[int] = EXIT_RIVALS_CLASH


class DeliveryError(CropperError):
    """A finished file cannot be made or written as asked."""


class RecordError(CropperError):
    """The record cannot be reached, read, written or trusted."""
