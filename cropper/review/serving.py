"""The server: on this machine only unless told otherwise, until it is stopped."""

from __future__ import annotations

import asyncio
import signal
import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final

import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol

from cropper.errors import MisuseError
from cropper.review.app import application
from cropper.review.cabinet import Cabinet
from cropper.review.desk import Desk
from cropper.review.guard import Guard, Keys

LOOPBACK: Final = "127.0.0.1"
LOOPBACKS: Final = frozenset({LOOPBACK, "localhost", "::1"})
SILENT_MOST_S: Final = 10.0
"""Who connects and asks nothing within this is hung up on (house: a browser asks at once)."""


class Serving:
    """One job's page, listening at one address; the address holds a key that opens once.

    Raises :class:`JobError` when there is no plan, :class:`MisuseError` when the port is taken.
    """

    def __init__(
        self, job: Path, *, host: str = LOOPBACK, port: int = 0, record: str | None = None
    ) -> None:
        desk, keys = Desk(job, record=record), Keys()
        desk.look()
        self._listening = _listening(host, port)
        self.port = int(self._listening.getsockname()[1])
        app = application(desk, Cabinet(job), keys, hosts=hosts(host, self.port), port=self.port)
        self._server = uvicorn.Server(_config(app))
        self.address = f"http://{named(host)}:{self.port}/open?key={keys.key}"

    def run(self) -> None:
        """Answer until stopped, by :meth:`stop` or Ctrl+C."""
        with self._listening:
            self._server.run(sockets=[self._listening])

    def stop(self) -> None:
        """Let :meth:`run` come to its end; may be called from another thread."""
        self._server.should_exit = True


class Listener(H11Protocol):
    """One connection; one that stays silent is closed, so that silent ones never fill the place."""

    _silence: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Somebody has connected."""
        super().connection_made(transport)
        self._silence = self.loop.call_later(SILENT_MOST_S, transport.close)

    def data_received(self, data: bytes) -> None:
        """Somebody says something."""
        self._heard()
        super().data_received(data)

    def connection_lost(self, exc: Exception | None) -> None:
        """Somebody has gone."""
        self._heard()
        super().connection_lost(exc)

    def _heard(self) -> None:
        if self._silence is not None:
            self._silence.cancel()
            self._silence = None


def _config(app: Guard) -> uvicorn.Config:
    return uvicorn.Config(
        app,
        http=Listener,
        log_level="warning",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        lifespan="off",
        ws="none",
        timeout_keep_alive=30,
        timeout_graceful_shutdown=2,
        h11_max_incomplete_event_size=32 * 1024,
    )


def serve(
    job: Path,
    *,
    host: str,
    port: int,
    opened: Callable[[str], None],
    record: str | None = None,
) -> None:
    """Serve the page of the job in ``job`` until the process is stopped; port 0: any free one.

    ``opened`` hears the address to open once it can be opened; ``record`` is where the record lies,
    unless it lies where it usually does.
    """
    serving = Serving(job, host=host, port=port, record=record)
    with _ended_politely():
        opened(serving.address)
        serving.run()


@contextmanager
def _ended_politely() -> Iterator[None]:
    """Take Ctrl+C, or a polite signal to end, for the end that it is, and no fault.

    The server hands on the signal that ended it once it is done.
    """
    if threading.current_thread() is threading.main_thread():
        signal.signal(signal.SIGTERM, signal.default_int_handler)
    with suppress(KeyboardInterrupt):
        yield


def named(host: str) -> str:
    """The host as an address says it."""
    return f"[{host}]" if ":" in host else host


def hosts(host: str, port: int) -> frozenset[str]:
    """Every Host that is ours: the loopback names, and the one that was asked for."""
    names = {"127.0.0.1", "localhost", "[::1]", named(host)}
    return frozenset(f"{one}:{port}" for one in names)


def _listening(host: str, port: int) -> socket.socket:
    if host in {"", "0.0.0.0", "::"}:  # noqa: S104 - refused, for Host could not be checked
        raise MisuseError(
            "the page listens at one address, not at all of them",
            way_out="Name the one address of this machine that others shall use, with --host",
        )
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    # The protocol is named, for only then does asyncio send small answers without delay: with the
    # system's waiting for more a drag was answered after 51 ms, not 5.
    listening = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    try:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((host, port))
        listening.listen(128)  # who opens the address at once finds somebody there
    except OSError as error:
        listening.close()
        raise MisuseError(
            f"the page cannot listen at {host} port {port} ({(error.strerror or '').lower()})",
            way_out="Choose another with --port, or leave it out for any free one",
        ) from error
    return listening
