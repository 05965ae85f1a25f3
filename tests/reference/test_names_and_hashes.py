"""Digests, names and tables against what is published about them.

- SHA-256: FIPS 180-4, the example vectors of NIST's cryptographic standards pages ("abc", the
  two-block message, and the empty message).
- File names: POSIX.1-2017, 3.282 portable filename character set; 4.7 no leading hyphen.
- CSV: RFC 4180, section 2, rules 1 (CRLF), 6 and 7 (quoting).
- Cells that run: OWASP, "CSV Injection" (= + - @, tab, carriage return).
"""

from __future__ import annotations

import csv
import io
import string
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cropper.deliverable.manifest import MISSING, Manifest, NotDelivered, harmless
from cropper.destination.naming import file_stem
from cropper.master.opening import master_digest

PORTABLE = set(string.ascii_letters + string.digits + "._-")
RUNS = ("=", "+", "-", "@", "\t", "\r")


@pytest.mark.parametrize(
    ("message", "published"),
    [
        (b"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
        (b"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
        (
            b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
        ),
    ],
)
def test_a_file_s_digest_is_the_published_sha_256(
    tmp_path: Path, message: bytes, published: str
) -> None:
    (tmp_path / "message").write_bytes(message)
    assert master_digest(tmp_path / "message") == published


@given(st.text(max_size=300), st.text(max_size=60))
def test_every_name_is_portable_and_no_option(version: str, recipient: str) -> None:
    stem = file_stem(
        "{version}_{recipient}_{width}", {"version": version, "recipient": recipient, "width": 1}
    )
    assert set(stem) <= PORTABLE
    assert not stem.startswith("-")
    assert 0 < len(stem.encode()) <= 240


def table(reason: str) -> str:
    missing = NotDelivered(destination="a", set=None, version="v", master="m", reason=reason)
    manifest = Manifest(made_by="x", made_at="y", delivered=(), not_delivered=(missing,))
    return manifest.not_delivered_csv_text()


@given(st.text(max_size=80))
def test_a_table_is_read_back_by_an_rfc_4180_reader_and_no_cell_runs(reason: str) -> None:
    rows = list(csv.reader(io.StringIO(table(reason), newline="")))
    assert tuple(rows[0]) == MISSING
    assert len(rows) == 2
    cell = rows[1][MISSING.index("reason")]
    assert cell.removeprefix("'") == reason.removeprefix("'") or cell == reason
    assert not cell.startswith(RUNS)


def test_rows_end_with_crlf_and_commas_and_quotes_are_quoted() -> None:
    text = table('one, "two"')
    assert text.count("\r\n") == 2
    assert '"one, ""two"""' in text


@pytest.mark.parametrize("start", RUNS)
def test_each_character_that_starts_a_formula_is_disarmed(start: str) -> None:
    assert harmless(f"{start}1+1") == f"'{start}1+1"
