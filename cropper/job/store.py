"""The job folder on the disk: read, written whole, and held by one run at a time.

JOB/plan.json          what is planned and chosen (see docs/reference/plan-format.md)
JOB/exported.json      which files an export has claimed and finished
JOB/outlets.toml       the photographer's own, read and never written
JOB/deliverables/      finished files and their manifest
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from cropper.errors import JobError
from cropper.job import codec
from cropper.job.plan import Plan

PLAN: Final = "plan.json"
LEDGER: Final = "exported.json"
OUTLETS: Final = "outlets.toml"
DELIVERABLES: Final = "deliverables"
LOCK: Final = "job.lock"

ELSEWHERE: Final = "Choose another folder with --job, or make this one writable"


@dataclass(frozen=True, slots=True)
class JobFolder:
    """A folder that a job lives in; it need not exist yet."""

    at: Path

    @property
    def plan_file(self) -> Path:
        """Where the plan lies."""
        return self.at / PLAN

    def read(self) -> Plan | None:
        """The plan; None when there is none yet. Raises :class:`JobError` if it cannot be read."""
        try:
            text = self.plan_file.read_text(encoding="utf-8")
        except FileNotFoundError:
            return None
        except (OSError, UnicodeDecodeError) as error:
            raise JobError(
                f"{self.plan_file} cannot be read ({reason(error)})", way_out=codec.RESTORE
            ) from error
        try:
            return codec.from_text(text)
        except JobError as error:
            raise error.inside(str(self.plan_file)) from error

    def must_read(self) -> Plan:
        """The plan; raises :class:`JobError` when there is none."""
        plan = self.read()
        if plan is None:
            raise JobError(
                f"{self.at} holds no plan",
                way_out="Make one first: cropper plan PICTURE --for NAME --job FOLDER",
            )
        return plan

    def write(self, plan: Plan) -> None:
        """Put the plan in place of the old one, whole or not at all."""
        write_text(self.plan_file, codec.to_text(plan))

    @contextmanager
    def held(self) -> Iterator[None]:
        """Hold the folder for one run; raises :class:`JobError` when another run has it."""
        from filelock import FileLock, Timeout  # noqa: PLC0415 - only writers need it

        self._make()
        lock = FileLock(self.at / LOCK, timeout=0)
        try:
            lock.acquire()
        except Timeout as error:
            raise JobError(
                f"another run of cropper is working in {self.at}",
                way_out="Wait until it is done, then run this again; nothing was changed",
            ) from error
        except OSError as error:
            raise JobError(
                f"{self.at} cannot be written to ({reason(error)})", way_out=ELSEWHERE
            ) from error
        try:
            yield
        finally:
            lock.release()

    def _make(self) -> None:
        try:
            self.at.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise JobError(
                f"the job folder {self.at} cannot be made ({reason(error)})", way_out=ELSEWHERE
            ) from error


def write_text(path: Path, text: str) -> None:
    """Write a file of the job whole or not at all: aside, flushed to the disk, then renamed."""
    try:
        handle, aside = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
        try:
            with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
                file.write(text)
                file.flush()
                os.fsync(file.fileno())
            Path(aside).chmod(0o666 & ~_umask())
            Path(aside).replace(path)
        except BaseException:
            with suppress(OSError):
                Path(aside).unlink()
            raise
        _settle(path.parent)
    except OSError as error:
        raise JobError(
            f"{path} cannot be written ({reason(error)}); what stood there before is untouched",
            way_out=ELSEWHERE,
        ) from error


def reason(error: Exception) -> str:
    """Why the system refused, in its own words, without numbers and paths."""
    said = error.strerror if isinstance(error, OSError) else None
    return (said or str(error)).lower()


def _umask() -> int:
    """The rights that new files go without; reading it means setting it for an instant."""
    mask = os.umask(0o022)
    os.umask(mask)
    return mask


def _settle(folder: Path) -> None:
    """Make the rename itself last through a power cut, where the system lets a folder be synced."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
