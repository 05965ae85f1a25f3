"""A private PostgreSQL for the tests: its own folder, a unix socket, no network, gone afterwards.

As a script it serves `.ci/run`: `python tests/postgres.py start FOLDER` prints the address, and
`python tests/postgres.py stop FOLDER` ends it. Nothing but the standard library is needed.
"""

from __future__ import annotations

import getpass
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Final

ADDRESS: Final = "CROPPER_TEST_POSTGRES"
"""Environment variable that names a database the tests may fill: postgresql://..."""

MISSING: Final = (
    "PostgreSQL is not installed here, so its tests were skipped. Install it (Debian:"
    " apt-get install postgresql) or name a database of your own:"
    f" {ADDRESS}=postgresql://USER@HOST/DATABASE"
)

QUICK: Final = "-c fsync=off -c synchronous_commit=off -c listen_addresses=''"
"""A crash of the machine may lose a test database: so it starts and commits faster."""


def program(name: str) -> Path | None:
    """Where a program of PostgreSQL lies; Debian keeps them off the PATH, by version."""
    found = shutil.which(name)
    if found:
        return Path(found)
    of_debian = sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"))
    return of_debian[-1] if of_debian else None


def start(folder: Path) -> str:
    """Begin a cluster in ``folder`` and tell its address; PostgreSQL refuses to run as root."""
    folder.mkdir(parents=True, exist_ok=True)
    if os.geteuid() == 0:
        shutil.chown(folder, "postgres")
    _run("initdb", folder, "--no-sync", "--auth=trust", "--encoding=UTF8", "--locale=C.UTF-8")
    _run("pg_ctl", folder, "-w", "-l", str(folder / "log"), "-o", f"{QUICK} -k {folder}", "start")
    return f"postgresql://{_owner()}@/postgres?host={folder}"


def stop(folder: Path) -> None:
    """End the cluster at once; what is in it is thrown away."""
    _run("pg_ctl", folder, "-m", "immediate", "stop")


def _owner() -> str:
    return "postgres" if os.geteuid() == 0 else getpass.getuser()


def _run(name: str, folder: Path, *words: str) -> None:
    found = program(name)
    if found is None:
        raise FileNotFoundError(MISSING)
    before = ["runuser", "-u", "postgres", "--"] if os.geteuid() == 0 else []
    command = [*before, str(found), "-D", str(folder / "cluster"), *words]
    done = subprocess.run(
        command, cwd="/", text=True, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, check=False
    )
    if done.returncode:
        message = f"{name} failed: {done.stderr.strip()}"
        raise RuntimeError(message)


if __name__ == "__main__":
    deed, place = sys.argv[1:]
    if deed == "start":
        print(start(Path(place)))  # noqa: T201 - the address is its answer
    else:
        stop(Path(place))
