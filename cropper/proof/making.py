"""Make the proof sheets of a sheet's values and put them on the disk, whole or not at all."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from cropper import disk
from cropper.errors import JobError, MasterError
from cropper.proof.entry import ProofMaster, Sheet
from cropper.proof.previews import Album, album

HTML_FILE: Final = "proof.html"
PDF_FILE: Final = "proof.pdf"

Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Proofs:
    """The finished sheets as bytes, and what could not be shown (file, sentence)."""

    html: bytes | None
    pdf: bytes | None
    not_shown: tuple[tuple[str, str], ...]


def silent(version: str) -> None:
    """Report no progress."""
    del version


def proofs(
    sheet: Sheet, *, html: bool = True, pdf: bool = True, progress: Progress = silent
) -> Proofs:
    """Both sheets, one master decoded at a time.

    A master that cannot be opened is named on the sheet and the others go on; raises
    :class:`MasterError` only when every one of them fails.
    """
    shown, albums = developed(sheet, progress)
    return Proofs(
        html=_html(shown, albums) if html else None,
        pdf=_pdf(shown, albums) if pdf else None,
        not_shown=shown.failures[len(sheet.failures) :],
    )


def developed(sheet: Sheet, progress: Progress = silent) -> tuple[Sheet, tuple[Album, ...]]:
    """The sheet without the masters that cannot be opened, and the previews of the others."""
    masters: list[ProofMaster] = []
    albums: list[Album] = []
    failures = list(sheet.failures)
    for number, master in enumerate(sheet.masters, start=1):
        progress(master.version)
        try:
            albums.append(album(master, f"m{number}"))
        except MasterError as error:
            if len(sheet.masters) == 1:
                raise
            failures.append((master.file, str(error)))
            continue
        masters.append(master)
    if sheet.masters and not masters:
        raise MasterError("none of the job's masters can be opened", way_out=failures[-1][1])
    return replace(sheet, masters=tuple(masters), failures=tuple(failures)), tuple(albums)


def _html(sheet: Sheet, albums: tuple[Album, ...]) -> bytes:
    from cropper.proof.page import html  # noqa: PLC0415 - the template engine, only when needed

    return html(sheet, albums).encode("utf-8")


def _pdf(sheet: Sheet, albums: tuple[Album, ...]) -> bytes:
    from cropper.proof.contact import pdf  # noqa: PLC0415 - as above, the PDF engine

    return pdf(sheet, albums)


def put(path: Path, content: bytes) -> None:
    """Write a file whole or not at all: aside, flushed, then renamed into place."""
    try:
        disk.made(path.parent)
        with disk.whole(path, "wb") as file:
            file.write(content)
    except OSError as error:
        said = (error.strerror or str(error)).lower()
        raise JobError(
            f"{path} cannot be written ({said}); what stood there before is untouched",
            way_out="Choose another folder with --to, or make this one writable",
        ) from error
