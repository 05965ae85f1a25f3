"""Bringing a record to the shape this program knows, without losing a row on the way.

Each step is one file in ``migrations/versions``, run by Alembic inside a single transaction (SQLite
and PostgreSQL both undo schema changes): a program killed in the middle leaves the record as it
was. A file is copied aside first; a shared database is only migrated when somebody says so, because
older programs at other seats cannot read it afterwards.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from sqlalchemy import Connection, Engine, inspect, text

from cropper.errors import RecordError
from cropper.record.address import Address
from cropper.record.engines import OURS, reading, writing

if TYPE_CHECKING:
    from alembic.config import Config

STEPS: Final = ("0001", "0002", "0003")
"""Every shape a record ever had, oldest first; the names of the files in ``migrations/versions``.
Known without Alembic, whose import would cost every opening a quarter of a second."""

NEWEST: Final = STEPS[-1]
MIGRATIONS: Final = Path(__file__).parent / "migrations"


def shape_of(connection: Connection) -> str | None:
    """The step a record stands at; None where there is nothing yet.

    Raises :class:`RecordError` for a database that is full of something else.
    """
    names = set(inspect(connection).get_table_names())
    if "alembic_version" in names and "piece" in names:
        return str(connection.execute(text("SELECT version_num FROM alembic_version")).scalar_one())
    if names:
        raise RecordError(
            "this database holds something else, no record",
            way_out="Check the name, or give a database of its own",
        )
    return None


def check_known(shape: str, address: Address) -> None:
    """Refuse a record that a newer program wrote."""
    if shape not in STEPS:
        raise RecordError(
            f"the record {address.shown} was written by a newer cropper (its shape is {shape}, this"
            f" one knows {NEWEST})",
            way_out="Update this cropper; nothing was changed",
        )


def migrate(engine: Engine, address: Address, *, to: str = NEWEST) -> None:
    """Run the missing steps, all or none."""
    from alembic import command  # noqa: PLC0415 - only a new or an older record pays for it

    with writing(engine, address) as connection:
        if shape_of(connection) == to:
            return  # another seat was faster
        if address.file is not None:
            connection.exec_driver_sql(f"PRAGMA application_id = {OURS}")
        command.upgrade(_config(connection), to)


def _config(connection: Connection) -> Config:
    from alembic.config import Config  # noqa: PLC0415 - as above

    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    config.attributes["connection"] = connection
    return config


def shape_at(engine: Engine, address: Address) -> str | None:
    """The step of the record at ``address``, seen in one reading."""
    with reading(engine, address) as connection:
        return shape_of(connection)


def differences(engine: Engine, address: Address) -> list[Any]:
    """How the database differs from what :mod:`cropper.record.tables` says; nothing when right."""
    from alembic.autogenerate import compare_metadata  # noqa: PLC0415 - as above
    from alembic.migration import MigrationContext  # noqa: PLC0415

    from cropper.record.tables import METADATA  # noqa: PLC0415

    with reading(engine, address) as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        return list(compare_metadata(context, METADATA))
