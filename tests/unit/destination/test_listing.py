"""`cropper destinations`: the table, the sentences, and the JSON that scripts rely on."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from cropper.cli.main import cropper
from cropper.destination.explaining import sentences, shape_said
from cropper.destination.listing import as_listing, as_mapping
from cropper.destination.presets import load_presets

KEYS = [
    *("name", "title", "description", "groups", "shape", "full_frame", "turnable"),
    *("delivered_px", "long_edge_px", "may_be_smaller", "page_mm", "bleed_mm", "ppi"),
    *("least_ppi", "greatest_enlargement", "frame", "trim", "safe", "live_areas", "covered"),
    *("gutter", "framing", "head_height", "eye_line", "headroom", "head_share", "across", "finish"),
    *("recipient", "naming", "caution", "preset_file", "sentences"),
]


def run(*words: str) -> Result:
    return CliRunner().invoke(cropper, ["destinations", *words])


def test_the_table_holds_every_destination_under_its_group() -> None:
    result = run()
    assert result.exit_code == 0
    for one in load_presets().destinations:
        assert f"  {one.name} " in result.stdout
    assert "Groups: social, web, press, press-pdf, print, client, identity, all." in result.stdout
    assert max(len(line) for line in result.stdout.splitlines()) <= 80


def test_a_name_is_explained_in_sentences() -> None:
    said = run("story").stdout
    assert said.startswith("story: Vertical story, 9:16\n")
    assert "Buttons and reply line cover the bottom 20 %" in said
    assert "the face must stay clear" in said
    assert "Framing:" not in said  # the master's own


def test_a_destination_that_asks_for_a_head_says_how_large() -> None:
    assert "The head is wanted from" in run("avatar").stdout


def test_a_group_explains_each_of_its_destinations() -> None:
    said = run("identity").stdout
    assert "id-2x2in: " in said
    assert "id-35x45mm: " in said
    assert said.count("Only the issuing authority decides") == 2


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("avatar", "Seen as a circle: the corners are lost, so eyes, chin and hair stay"),
        ("page-header", "On small screens only the middle 66.7 % across is seen"),
        ("page-header", "Enlarged at most 1.15 times."),
        ("print-4x6", "On paper 4 x 6 in: a file of 1200 x 1800 px at 300 ppi."),
        ("print-4x6", "The lab may trim 2 mm of every side"),
        ("canvas", "On paper 400 x 600 mm and 40 mm of wrap on every side"),
        ("spread-a4", "The fold stands 50 % across; no head within 12.7 mm of it."),
        ("cover-a4", "Medium: press hand-off, seen from 300 mm; not sharpened."),
        ("cover-a4", "Written as tiff, 8 bits a channel, profile srgb."),
        ("full-frame", "The whole master, never cropped."),
        ("full-frame-web", "long edge 2048 px; a smaller one keeps its pixels."),
        ("id-2x2in", "Chin to the top of the skull: 56-63 % (limits 50-68.8 %)"),
        ("portfolio", "Shape 4:5 to 3:2 (width to height)."),
        ("wide", "Nothing that matters within 5 % of the width or height of an edge."),
        ("model-copy", "For the model."),
    ],
)
def test_what_is_said_of_each_kind(name: str, sentence: str) -> None:
    (one,) = load_presets().choose([name])
    assert any(sentence in said for said in sentences(one)), sentences(one)


def test_a_doubled_fold_and_free_eyes_are_said_too(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text(
        '[fold]\ntitle = "Fold"\nsize_mm = [420, 297]\nppi = 300\nacross = "free"\n'
        "gutter = { margin_mm = 10, strip_mm = 4 }\nbleed_mm = 3\nshape = '420:297'\n"
    )
    (fold,) = load_presets(folders=[tmp_path]).choose(["fold"])
    said = sentences(fold)
    assert "A strip of 4 mm is repeated on both pages at the fold." in said
    assert "The eyes may stand anywhere across." in said
    assert as_mapping(fold)["gutter"] == {
        "at": 0.5,
        "margin": pytest.approx(10 / 420),
        "strip_mm": 4.0,
    }


def test_every_destination_can_be_explained_without_a_dangling_word() -> None:
    for one in load_presets().destinations:
        for said in sentences(one):
            assert said.endswith("."), said
            assert "None" not in said
            assert "  " not in said


def test_the_json_is_an_interface() -> None:
    told = json.loads(run("--json").stdout)
    assert list(told) == ["version", "destinations", "groups", "notices"]
    assert told["version"] == 1
    assert all(list(one) == KEYS for one in told["destinations"])
    assert told["groups"]["identity"] == ["id-2x2in", "id-35x45mm"]
    cover = json.loads(run("cover-a4", "--json").stdout)["destinations"][0]
    assert cover["page_mm"] == [210, 297]
    assert cover["delivered_px"] == [2551, 3579]
    assert cover["shape"] == ["2551:3579", "2551:3579"]
    assert cover["finish"]["quality"] is None
    assert cover["covered"][0]["keep_clear"] == "eyes"


def test_the_json_holds_numbers_not_words_for_them() -> None:
    catalogue = load_presets()
    told = as_listing(catalogue, catalogue.destinations)
    assert json.loads(json.dumps(told)) == told
    (spread,) = catalogue.choose(["spread-a4"])
    assert as_mapping(spread)["gutter"] == {
        "at": 0.5,
        "margin": pytest.approx(12.7 / 420),
        "strip_mm": None,
    }


def test_own_presets_stand_in_the_table_and_what_they_replace_is_said(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text('[story]\ntitle = "Mine"\nshape = "9:16"\n')
    result = run("--presets", str(tmp_path))
    assert "Note: story: mine.toml replaces the one of 1-screens.toml" in result.stderr
    assert "in no group" in result.stdout
    assert json.loads(run("--presets", str(tmp_path), "--json").stdout)["notices"]


def test_exit_codes(tmp_path: Path) -> None:
    assert run("stroy").exit_code == 2
    assert "did you mean 'story'?" in run("stroy").stderr
    (tmp_path / "bad.toml").write_text('[story]\ntitle = "x"\nshape = "9:0"\n')
    result = run("--presets", str(tmp_path))
    assert result.exit_code == 3
    assert result.stderr == ("Error: bad.toml.story.shape: '9:0' is not a shape such as '4:5'\n")
    assert run("--presets", str(tmp_path / "nowhere")).exit_code == 2


def test_shapes_are_said_in_small_whole_numbers_where_there_are_some() -> None:
    (preview,) = load_presets().choose(["link-preview"])
    assert shape_said(preview.shape.least) == "1.905:1"
    assert shape_said(1 / preview.shape.least) == "1:1.905"


def test_help_does_not_pay_for_the_readers_of_presets() -> None:
    script = (
        "import sys; from cropper.cli import destinations;"
        "assert not {'pydantic', 'rich', 'cv2', 'pyvips'} & set(sys.modules), sys.modules"
    )
    subprocess.run([sys.executable, "-c", script], check=True)
