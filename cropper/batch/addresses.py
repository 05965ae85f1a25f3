"""Which scheduler may be spoken to: one on this machine, or one behind TLS.

A scheduler runs whatever code it is sent, and so does whoever listens in on the way there. The
address is taken apart by one strict grammar and put together again from its parts, so that the
engine, whose own reading is more generous, sees exactly what was judged.
"""

from __future__ import annotations

import ipaddress
import re
from typing import Final

from cropper.errors import MisuseError

_ADDRESS: Final = re.compile(
    r"""(?:(?P<scheme>tcp|tls)://)?
        (?P<host>\[[0-9a-f:.]+\] | [a-z0-9](?:[a-z0-9_.-]*[a-z0-9])?)
        (?::(?P<port>[0-9]{1,5}))?""",
    re.ASCII | re.IGNORECASE | re.VERBOSE,
)
_PORT: Final = 8786
"""The engine's own when none is given."""
_MOST: Final = 65_535
_THIS_MACHINE: Final = "127.0.0.1"
"""``localhost`` is taken for this and never looked up: a hosts file can say anything."""


def safe_address(address: str) -> str:
    """The address with scheme and port spelled out; :class:`MisuseError` where it is not safe.

    Without TLS only this machine is safe, and it must be named by a plain loopback number or
    ``localhost``: other spellings of a number are read differently by different readers.

    >>> safe_address("localhost:9000"), safe_address("TLS://studio.example")
    ('tcp://127.0.0.1:9000', 'tls://studio.example:8786')
    """
    parts = _ADDRESS.fullmatch(address)
    port = int((parts and parts["port"]) or _PORT)
    if parts is None or not 0 < port <= _MOST or not _host_holds(parts["host"]):
        shown = address.rpartition("@")[2]  # a password before it is nobody's business
        raise MisuseError(
            f"{shown!r} is not the address of a scheduler",
            way_out=f"Write tls://HOST:PORT, or tcp://{_THIS_MACHINE}:PORT for one on this machine",
        )
    scheme, host = (parts["scheme"] or "tcp").lower(), parts["host"].lower()
    host = _THIS_MACHINE if host == "localhost" else host
    if scheme == "tcp" and not _loopback(host):
        raise MisuseError(
            f"a scheduler at '{address}' would be spoken to in the clear, and it runs code",
            way_out="Secure it and write tls://HOST:PORT; "
            "only 127.0.0.1, [::1] and localhost may be tcp",
        )
    return f"{scheme}://{host}:{port}"


def _host_holds(host: str) -> bool:
    """What stands in brackets must be a number of the sixth protocol."""
    if not host.startswith("["):
        return True
    try:
        ipaddress.IPv6Address(host[1:-1])
    except ValueError:
        return False
    return True


def _loopback(host: str) -> bool:
    """Whether this is this machine; a fourth-protocol number inside a sixth is not asked about."""
    try:
        number = ipaddress.ip_address(host.strip("[]"))
    except ValueError:
        return False
    return number.is_loopback and getattr(number, "ipv4_mapped", None) is None
