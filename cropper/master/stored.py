"""Masters on storage that is reached by an address instead of a mounted folder.

An address is a path like any other here: it has a name and a stem, is told in messages and kept
in the plan as it was given, and opens for reading. Behind it stands fsspec, whose own
configuration holds hosts, keys and passwords; none of them belongs in an address, since a plan is
read by others.

Which storage may be named is a rule: it keeps files under their names and lists its own folders,
and one address leads to one place. So no address inside an address, no archive, no cache in
between, no web page whose links would be followed, nothing that runs a program to make a file.
"""

from __future__ import annotations

import re
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path, PosixPath
from typing import IO, Any, Final, TypeVar

from cropper.errors import CropperError, MasterError, MisuseError

Answer = TypeVar("Answer")

STORES: Final = frozenset({"abfs", "gs", "hdfs", "memory", "s3", "sftp", "smb"})
"""Storage that keeps the rule above; ``file://`` is a path of this machine and taken as one."""

EVERYWHERE: Final = "on every machine that reads masters"
_ADDRESS: Final = re.compile(
    r"(?P<scheme>[a-z][a-z0-9+.-]*)(?P<chain>::.*)?://(?P<rest>.*)", re.IGNORECASE
)
_SECRET: Final = re.compile(r"^[^/]*@|\?.*=")
"""A name or password before the host, or a signed query behind the name."""
_CHUNK: Final = 1 << 22
"""Bytes fetched at a time."""
_SAID: Final = 160
"""Letters of a storage library's complaint that are passed on."""


class StoredPath(PosixPath):
    """A path on such storage; made by :func:`named`. Only reading is offered."""

    __slots__ = ()

    def __str__(self) -> str:
        return f"{self.parts[0]}//{'/'.join(self.parts[1:])}"

    def absolute(self) -> StoredPath:
        """Itself: an address means the same in every folder."""
        return self

    def resolve(self, strict: bool = False) -> StoredPath:  # noqa: ARG002, FBT001, FBT002 - pathlib's
        """Itself."""
        return self

    def exists(self, **_: Any) -> bool:
        """Whether anything is there."""
        return _told(lambda: _asked(self, "exists"))

    def is_file(self, **_: Any) -> bool:
        """Whether a file is there."""
        return _told(lambda: _asked(self, "isfile"))

    def is_dir(self, **_: Any) -> bool:
        """Whether a folder is there."""
        return _told(lambda: _asked(self, "isdir"))

    def open(self, mode: str = "r", *_: Any, **__: Any) -> Any:
        """The whole file, fetched into a nameless one of this machine; OSError says why not."""
        if mode != "rb":
            raise PermissionError(f"{self} is only read, as bytes")
        copy = tempfile.TemporaryFile()  # noqa: SIM115 - handed to the caller, who closes it
        try:
            _fetch(self, copy)
        except BaseException:
            copy.close()
            raise
        copy.seek(0)
        return copy


class _AtHand(StoredPath):
    """The same address, read from a copy on this machine."""

    __slots__ = ("copy",)
    copy: str

    def __fspath__(self) -> str:
        return self.copy

    def open(self, mode: str = "r", *rest: Any, **named: Any) -> Any:
        return Path(self.copy).open(mode, *rest, **named)


@contextmanager
def at_hand(path: Path) -> Iterator[Path]:
    """``path``, to be opened several times while this lasts: a stored file is fetched but once."""
    if not isinstance(path, StoredPath):
        yield path
        return
    with tempfile.NamedTemporaryFile(prefix="master-") as copy:
        _fetch(path, copy)
        copy.flush()
        near = _AtHand(*path.parts)
        near.copy = copy.name
        yield near


def named(text: str) -> Path:
    """The path that ``text`` names: of this machine, or on storage if it is an address.

    Raises :class:`MisuseError` for an address that is not to be read, without repeating secrets.

    >>> named("shoot/ilse.jpg"), named("s3://shoots/day-1/ilse.jpg").stem
    (PosixPath('shoot/ilse.jpg'), 'ilse')
    """
    address = _ADDRESS.fullmatch(text)
    if address is None:
        return Path(text)
    scheme, rest = address["scheme"].lower(), address["rest"]
    if address["chain"] or "::" in rest:
        raise MisuseError(
            f"an address inside an address ({scheme}::...) reaches further than it says",
            way_out="Name the place itself, or copy the pictures to a folder",
        )
    if scheme == "file":
        return _of_this_machine(rest)
    if scheme not in STORES:
        raise MisuseError(
            f"masters are not read from {scheme}://",
            way_out=f"Copy them to a folder, or to one of: {', '.join(sorted(STORES))}",
        )
    if _SECRET.search(rest):
        raise MisuseError(
            f"an address of {scheme}:// holds a password, a key or a query, and the plan keeps it",
            way_out="Leave it out; fsspec's own configuration holds what the storage asks for",
        )
    parts = rest.rstrip("/").split("/")
    if not all(part.strip() and part.isprintable() and part not in {".", ".."} for part in parts):
        raise MisuseError(
            f"{scheme}://{rest!r} is no plain way to a file", way_out="Write it without . .. and //"
        )
    return StoredPath(f"{scheme}:", *parts)


def placed(job: Path, way: str) -> Path:
    """Where the way from a job folder leads; an address that is not to be read leads nowhere."""
    try:
        place = named(way)
    except MisuseError:
        return job / way
    return place if isinstance(place, StoredPath) else job / way


def listed(path: StoredPath) -> tuple[StoredPath, ...]:
    """Files in a folder and below it, or those that a pattern means, by name; hidden ones left out.

    Raises :class:`MasterError` when the storage cannot be asked.
    """
    return _told(lambda: tuple(sorted(_listed(path), key=_in_order)))


def _of_this_machine(rest: str) -> Path:
    if not rest.startswith("/"):
        raise MisuseError(
            f"file://{rest} names a machine, not a path", way_out="Write file:///FOLDER/PICTURE"
        )
    return Path(rest)


def _store(path: StoredPath) -> tuple[Any, str]:
    """The storage, and the path's name there. Listings are asked for anew each time."""
    try:
        from fsspec.core import url_to_fs  # noqa: PLC0415 - optional
    except ImportError as error:
        raise MasterError(
            f"{path}: nothing that opens storage is installed",
            way_out=f"Install it {EVERYWHERE}: pip install 'cropper[cluster]'",
        ) from error
    try:
        return url_to_fs(str(path), use_listings_cache=False)  # type: ignore[no-any-return]
    except ImportError as error:
        raise MasterError(
            f"{path}: this kind of storage needs one package more ({error})",
            way_out=f"Install that {EVERYWHERE}",
        ) from error


def _asked(path: StoredPath, question: str) -> bool:
    store, name = _store(path)
    return bool(getattr(store, question)(name))


def _listed(path: StoredPath) -> Iterator[StoredPath]:
    store, name = _store(path)
    before = str(path).removesuffix(name)
    found = store.find(name, detail=True) if store.isdir(name) else store.glob(name, detail=True)
    for one, told in found.items():
        hidden = any(part.startswith(".") for part in one.removeprefix(name).split("/"))
        place = named(f"{before}{one}")
        if isinstance(place, StoredPath) and told["type"] == "file" and not hidden:
            yield place


def _in_order(path: Path) -> tuple[tuple[bool, str], ...]:
    """As a folder of this machine is walked: its files by name, then its folders."""
    return (*((True, part) for part in path.parts[:-1]), (False, path.name))


def _fetch(path: StoredPath, into: IO[bytes]) -> None:
    """All bytes of it; OSError when they are not to be had, or not all."""
    try:
        store, name = _store(path)
        with store.open(name, "rb") as source:
            shutil.copyfileobj(source, into, _CHUNK)
            whole = getattr(source, "size", None)
    except (OSError, CropperError):
        raise
    except Exception as error:
        raise OSError(_said(error)) from error
    if whole is not None and whole != into.tell():
        raise OSError(f"{into.tell()} of {whole} bytes came")


def _told(ask: Callable[[], Answer]) -> Answer:
    """An answer of the storage. Each library has faults of its own: all of them are told alike."""
    try:
        return ask()
    except CropperError:
        raise
    except Exception as error:
        raise MasterError(
            f"the storage does not answer ({_said(error)})",
            way_out="Look at the address, the network, and fsspec's configuration of the storage",
        ) from error


def _said(error: Exception) -> str:
    return f"{type(error).__name__}: {' '.join(str(error).split())}"[:_SAID]
