"""A record on each database: a SQLite file, and a PostgreSQL of the tests' own."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from uuid import uuid4

import pytest

from cropper.record.opening import open_record
from cropper.record.record import Record
from tests import postgres


@pytest.fixture(scope="session")
def cluster() -> Iterator[str]:
    """The address of a PostgreSQL that the tests may fill."""
    given = os.environ.get(postgres.ADDRESS)
    if given:
        yield given
        return
    if postgres.program("initdb") is None:
        pytest.skip(postgres.MISSING)
    folder = Path("/tmp") / f"cropper-{uuid4().hex[:8]}"  # noqa: S108 - a socket's path is short
    try:
        yield postgres.start(folder)
    finally:
        postgres.stop(folder)
        import shutil  # noqa: PLC0415

        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def studio(cluster: str) -> str:
    """The address of an empty database."""
    import psycopg  # noqa: PLC0415 - an extra of the package

    name = f"record_{uuid4().hex}"
    with psycopg.connect(cluster, autocommit=True) as admin:
        admin.execute(f"CREATE DATABASE {name}".encode())
    head, _, query = cluster.partition("?")
    return f"{head.rpartition('/')[0]}/{name}?{query}"


@pytest.fixture(params=["SQLite", "PostgreSQL"])
def address(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Where a record may be begun, on each of the two databases."""
    if request.param == "SQLite":
        return str(tmp_path / "record.sqlite")
    return str(request.getfixturevalue("studio"))


@pytest.fixture
def record(address: str) -> Iterator[Record]:
    """A new record."""
    with open_record(address) as opened:
        yield opened
