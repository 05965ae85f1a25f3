"""A fixed handful of broken files for every reader; `make fuzz` throws thousands."""

from __future__ import annotations

import pytest

from tests.fuzz.corpus import CORPORA
from tests.fuzz.hunt import hunt, inputs

EACH = {"runs": 12, "record": 12}
OTHERS = 60


@pytest.mark.parametrize("target", sorted(CORPORA))
def test_broken_files_end_in_a_value_or_a_clear_refusal(target: str) -> None:
    went = hunt(inputs(EACH.get(target, OTHERS), 7, (target,)))
    assert [find.what for find in went.finds] == []
    assert went.answers[target, "value"] > 0
    assert went.answers[target, "refused"] > 0
