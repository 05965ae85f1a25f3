"""A fixed handful of broken files for every reader; `make fuzz` throws thousands."""

from __future__ import annotations

import struct
import zipfile
from contextlib import suppress
from pathlib import Path

import pytest

from cropper.errors import CropperError
from cropper.job import twins
from tests.fuzz.corpus import CORPORA
from tests.fuzz.hunt import hunt, inputs
from tests.fuzz.job_corpus import fingerprints
from tests.fuzz.targets import TARGETS

EACH = {"runs": 12, "record": 12, "policy": 12, "asked": 40}
OTHERS = 60


@pytest.mark.parametrize("target", sorted(CORPORA))
def test_broken_files_end_in_a_value_or_a_clear_refusal(target: str) -> None:
    went = hunt(inputs(EACH.get(target, OTHERS), 7, (target,)))
    assert [find.what for find in went.finds] == []
    assert went.answers[target, "value"] > 0
    assert went.answers[target, "refused"] > 0


NESTED = b"[" * 3000
LONG_NUMBER = b"9" * 5000
"""Beyond what Python turns into a number; an error of its own kind (found by a longer hunt)."""


@pytest.mark.parametrize("target", ["preset", "words", "outlets", "tags"])
@pytest.mark.parametrize("value", [NESTED, LONG_NUMBER], ids=["nested", "long number"])
def test_what_a_toml_reader_itself_gives_up_on_is_refused_in_words(
    target: str, value: bytes, tmp_path: Path
) -> None:
    with pytest.raises(CropperError, match="TOML"):
        TARGETS[target](tmp_path, b"a = " + value)


@pytest.mark.parametrize("side", [10**9, 10**12, 2**62])
def test_a_fingerprint_that_claims_more_than_there_is_memory_is_none(
    side: int, tmp_path: Path
) -> None:
    told = f"{{'descr': '|u1', 'fortran_order': False, 'shape': ({side},), }}\n".encode()
    head = b"\x93NUMPY\x01\x00" + struct.pack("<H", len(told)) + told
    with zipfile.ZipFile(tmp_path / "claims.npz", "w") as archive:
        for name in ("kept_as", "names", "glances", "bases", "views"):
            archive.writestr(f"{name}.npy", head)
    data = (tmp_path / "claims.npz").read_bytes()
    with pytest.raises(CropperError):
        TARGETS["fingerprint"](tmp_path, data)
    assert twins._read(tmp_path / "claims.npz").get("0" * 64) is None


@pytest.mark.parametrize("wound", [0x01, 0x09, 0xFF])
def test_a_fingerprint_wounded_anywhere_is_none_or_another_and_never_a_traceback(
    wound: int, tmp_path: Path
) -> None:
    for whole in fingerprints().values():
        for at in range(0, len(whole), 11):
            data = bytearray(whole)
            data[at] ^= wound
            with suppress(CropperError):
                TARGETS["fingerprint"](tmp_path, bytes(data))
