"""Whether this machine can hold a picture, told from its header before a pixel is decoded."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Final

from cropper.errors import MasterError
from cropper.geometry import Size

TIMES_DECODED: Final = 3.5
"""Memory that planning and finishing a picture take, as a multiple of its decoded bytes (house:
1,022 MB were measured for a 100 MP JPEG of 300 MB, see the changelog)."""
MEGABYTE: Final = 1_000_000


def refuse_unaffordable(path: Path, size: Size, *, bands: int, bit_depth: int) -> None:
    """Raise :class:`MasterError` for a picture that would take more memory than is free."""
    needed = TIMES_DECODED * size.width * size.height * bands * bit_depth / 8
    free = free_bytes()
    if free is not None and needed > free:
        raise MasterError(
            f"{path}: {size.width} x {size.height} px need some {needed / MEGABYTE:,.0f} MB of "
            f"memory, and {free / MEGABYTE:,.0f} MB are free",
            way_out="Close other programs, use fewer --workers, or raise the memory limit",
        )


def free_bytes() -> int | None:
    """Memory that this process may still take; None where the system does not tell (not Linux)."""
    told = [one for one in (_in_the_machine(), _under_the_limit(), _in_the_group()) if one]
    return min(told, default=None)


def _in_the_machine() -> int | None:
    """``MemAvailable`` [Linux, proc_meminfo(5)]."""
    for line in _lines(Path("/proc/meminfo")):
        if line.startswith("MemAvailable:"):
            return int(line.split()[1]) * 1024
    return None


def _under_the_limit() -> int | None:
    """What is left under a limit on addresses (``ulimit -v``) [Linux, getrlimit(2), proc(5)]."""
    try:
        import resource  # noqa: PLC0415 - not on every system

        most, _ = resource.getrlimit(resource.RLIMIT_AS)
        if most == resource.RLIM_INFINITY:
            return None
        pages = int(next(_lines(Path("/proc/self/statm"))).split()[0])
        return max(1, most - pages * resource.getpagesize())
    except (ImportError, StopIteration, ValueError):
        return None


def _in_the_group() -> int | None:
    """What is left to this control group, page cache not counted [Linux, cgroup-v2, memory.*]."""
    group = Path("/sys/fs/cgroup")
    try:
        most = int(next(_lines(group / "memory.max")))
        used = dict(line.split() for line in _lines(group / "memory.stat"))
        return max(1, most - int(used["anon"]))
    except (StopIteration, ValueError, KeyError):
        return None  # no limit ("max"), or no such group


def _lines(path: Path) -> Iterator[str]:
    try:
        yield from path.read_text(encoding="utf-8").splitlines()
    except OSError:
        return
