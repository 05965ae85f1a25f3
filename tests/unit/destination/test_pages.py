"""The pages about presets stay true: the walked-through preset loads, every key is explained."""

from __future__ import annotations

import re
import textwrap
from pathlib import Path

import pytest

from cropper.destination.destination import Across, Frame, KeepClear, Medium, Wrap
from cropper.destination.explaining import sentences
from cropper.destination.formats import FORMATS
from cropper.destination.naming import FIELDS
from cropper.destination.presets import load_presets
from cropper.destination.schema import (
    PROFILES,
    BandTable,
    DestinationTable,
    FinishTable,
    GutterTable,
)
from cropper.destination.shots import Shot

DOCS = Path(__file__).parents[3] / "docs"

pytestmark = pytest.mark.skipif(not DOCS.is_dir(), reason="the pages stand in the checkout only")


def test_the_walked_through_preset_loads_and_is_told_as_the_page_says(tmp_path: Path) -> None:
    page = (DOCS / "how-to" / "add-a-destination.md").read_text(encoding="utf-8")
    block = re.search(r"```toml\n(.*?)```", page, re.DOTALL)
    assert block is not None
    (tmp_path / "wall.toml").write_text(textwrap.dedent(block[1]), encoding="utf-8")
    (wall,) = load_presets(folders=[tmp_path]).choose(["mill-wall"])
    for sentence in sentences(wall):
        assert f"- {sentence}\n" in page


def test_every_key_of_a_preset_is_in_the_reference() -> None:
    page = (DOCS / "reference" / "presets.md").read_text(encoding="utf-8")
    for model in (DestinationTable, FinishTable, BandTable, GutterTable):
        for key in model.model_fields:
            assert re.search(rf"\b{key}\b", page), key


def test_every_word_a_preset_may_use_is_in_the_reference() -> None:
    page = (DOCS / "reference" / "presets.md").read_text(encoding="utf-8")
    words = [word.value for kind in (Shot, Frame, KeepClear, Across, Medium, Wrap) for word in kind]
    for word in (*words, *FORMATS, *PROFILES, *FIELDS):
        assert word in page, word
