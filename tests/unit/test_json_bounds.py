"""JSON of strangers is read only as far as it stays within bounds, wherever a chunk ends."""

from __future__ import annotations

import io
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cropper.json_bounds import DEEPEST, LONGEST_NUMBER, LONGEST_TEXT, Bounded

VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=30,
)


def through(data: bytes, chunk: int = 7) -> bytes:
    reader, told = Bounded(io.BytesIO(data)), b""
    while piece := reader.read(chunk):
        told += piece
    return told


@given(VALUES, st.integers(1, 50), st.booleans())
def test_ordinary_json_passes_unchanged(value: object, chunk: int, ascii_only: bool) -> None:  # noqa: FBT001
    data = json.dumps(value, ensure_ascii=ascii_only, indent=1).encode()
    assert through(data, chunk) == data


@pytest.mark.parametrize("chunk", [1, 7, 4096, 1 << 20])
@pytest.mark.parametrize(
    "data",
    [
        b"[" * (DEEPEST + 1),
        b'{"a":' * (DEEPEST + 1),
        b'{"bytes": ' + b"9" * (LONGEST_NUMBER + 1) + b"}",
        b'{"ppi": 1.' + b"0" * LONGEST_NUMBER + b"1}",
    ],
)
def test_what_is_deeper_or_longer_than_any_file_of_ours_is_refused(data: bytes, chunk: int) -> None:
    with pytest.raises(ValueError, match="than any file of this program"):
        through(data, chunk)


def test_a_text_without_end_is_refused_before_it_fills_the_memory() -> None:
    with pytest.raises(ValueError, match="text"):
        through(b'{"a": "' + b"x" * (LONGEST_TEXT + 1), 1 << 16)


@given(st.integers(1, 9), st.integers(0, 40))
def test_brackets_and_digits_inside_a_text_do_not_count(chunk: int, slashes: int) -> None:
    text = "\\" * slashes + '"' + "[" * 200 + "9" * (LONGEST_NUMBER + 5)
    data = json.dumps({"a": text}).encode()
    assert through(data, chunk) == data
