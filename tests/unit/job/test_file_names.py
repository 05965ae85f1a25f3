"""Names that a deliverable gets: its own, kept, and never outside the folder."""

from __future__ import annotations

import unicodedata
from pathlib import Path, PurePosixPath

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cropper.deliverable.naming import folded
from cropper.job.file_names import FileNames, recipient_folder
from cropper.job.ledger import Entry, OpenLedger
from cropper.job.making import sha256_of


def names(tmp_path: Path) -> FileNames:
    return FileNames(tmp_path / "out", OpenLedger(tmp_path, "out"))


def test_names_that_a_case_folding_disk_holds_for_one_are_kept_apart(tmp_path: Path) -> None:
    giving = names(tmp_path)
    assert giving.give("Shawl.jpg", version="Shawl", destination="a") == "Shawl.jpg"
    assert giving.give("shawl.jpg", version="shawl", destination="a") == "shawl-2.jpg"


def test_a_file_of_somebody_in_another_unicode_form_has_its_name(tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / unicodedata.normalize("NFD", "CAFÉ.jpg")).write_bytes(b"theirs")
    assert names(tmp_path).give("café.jpg", version="v", destination="a") == "café-2.jpg"


def test_a_name_once_given_stays(tmp_path: Path) -> None:
    opened = OpenLedger(tmp_path, "out")
    opened.note({"a-2.jpg": Entry(version="v", destination="d", basis="x", written=True)})
    giving = FileNames(tmp_path / "out", opened)
    assert giving.give("a.jpg", version="v", destination="d") == "a-2.jpg"
    assert giving.give("a.jpg", version="w", destination="d") == "a.jpg"


@pytest.mark.parametrize(
    "tricky",
    ["..", "../..", "/etc/passwd", "..\\..\\x", "a/../../b", "~", "CON", "\x00", "." * 300],
)
def test_a_tricky_recipient_stays_in_the_folder(tricky: str) -> None:
    name = recipient_folder(tricky)
    assert len(PurePosixPath(name).parts) == 1
    assert name not in {".", ".."}
    assert "\\" not in name
    assert name.upper() != "CON"


@given(st.text(max_size=10_000))
def test_any_recipient_is_one_short_portable_folder(recipient: str) -> None:
    name = recipient_folder(recipient)
    assert 0 < len(name.encode()) <= 81
    assert name.isascii()
    assert len(PurePosixPath(name).parts) == 1


@given(st.text(max_size=40))
def test_folding_twice_is_folding_once(name: str) -> None:
    assert folded(folded(name)) == folded(name)


def test_what_is_not_there_has_no_digest(tmp_path: Path) -> None:
    assert sha256_of(tmp_path / "nothing") is None
