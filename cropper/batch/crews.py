"""Which crew does the work: this process, processes on this machine, or a cluster."""

from __future__ import annotations

from cropper.batch.here import Processes
from cropper.batch.work import Crew
from cropper.errors import MisuseError


def crew_of(workers: int | None, scheduler: str = "") -> Crew | None:
    """The crew asked for; None: the work is done in this process.

    Raises :class:`MisuseError` when both are asked for.
    """
    if not scheduler:
        return Processes(workers) if workers else None
    if workers:
        raise MisuseError(
            "--workers is about this machine, and --scheduler about others",
            way_out="Give one of the two; a cluster has as many workers as were started for it",
        )
    from cropper.batch.cluster import Cluster  # noqa: PLC0415 - an optional engine

    return Cluster(scheduler)
