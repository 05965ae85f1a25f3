"""A fixed handful of broken files for every reader; `make fuzz` throws thousands."""

from __future__ import annotations

from pathlib import Path

import pytest

from cropper.errors import CropperError
from tests.fuzz.corpus import CORPORA
from tests.fuzz.hunt import hunt, inputs
from tests.fuzz.targets import TARGETS

EACH = {"runs": 12, "record": 12}
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
