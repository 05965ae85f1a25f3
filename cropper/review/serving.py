"""The server: on this machine only unless told otherwise, until it is stopped."""

from __future__ import annotations

import socket
from collections.abc import Callable
from pathlib import Path
from typing import Final

import uvicorn

from cropper.errors import MisuseError
from cropper.review.app import application
from cropper.review.cabinet import Cabinet
from cropper.review.desk import Desk
from cropper.review.guard import Keys

LOOPBACK: Final = "127.0.0.1"
LOOPBACKS: Final = frozenset({LOOPBACK, "localhost", "::1"})
MOST_AT_ONCE: Final = 200
"""Connections beyond these are turned away (house: a browser opens six)."""


def serve(
    job: Path,
    *,
    host: str = LOOPBACK,
    port: int = 0,
    opened: Callable[[str], None] = lambda _: None,
) -> None:
    """Serve the page of the job in ``job`` until the process is stopped.

    ``opened`` hears the address to open, with its one-time key. Port 0: any free one.
    Raises :class:`JobError` when there is no plan, :class:`MisuseError` when the port is taken.
    """
    desk, keys = Desk(job), Keys()
    desk.look()
    listening = _listening(host, port)
    with listening:
        taken = int(listening.getsockname()[1])
        app = application(desk, Cabinet(job), keys, hosts=hosts(host, taken), port=taken)
        config = uvicorn.Config(
            app,
            log_level="warning",
            access_log=False,
            server_header=False,
            proxy_headers=False,
            lifespan="off",
            ws="none",
            limit_concurrency=MOST_AT_ONCE,
            timeout_keep_alive=30,
            timeout_graceful_shutdown=2,
            h11_max_incomplete_event_size=32 * 1024,
        )
        opened(f"http://{named(host)}:{taken}/open?key={keys.key}")
        uvicorn.Server(config).run(sockets=[listening])


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
    except OSError as error:
        listening.close()
        raise MisuseError(
            f"the page cannot listen at {host} port {port} ({(error.strerror or '').lower()})",
            way_out="Choose another with --port, or leave it out for any free one",
        ) from error
    return listening
