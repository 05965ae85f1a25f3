"""A fault names file, table, key, value and what would be right; all are told at once."""

from __future__ import annotations

from pathlib import Path

import pytest

from cropper.destination.presets import load_presets
from cropper.errors import EXIT_PRESET_AT_FAULT, PresetError

SCREEN = 'title = "x"\nsize_px = [1080, 1350]\n'
PAGE = 'title = "x"\nsize_mm = [210, 297]\nppi = 300\n'


def said_of(tmp_path: Path, body: str, name: str = "story") -> str:
    (tmp_path / "feed.toml").write_text(f"[{name}]\n{body}", encoding="utf-8")
    with pytest.raises(PresetError) as told:
        load_presets(folders=[tmp_path])
    assert told.value.exit_code == EXIT_PRESET_AT_FAULT
    return str(told.value)


def test_the_sentence_of_the_house_style(tmp_path: Path) -> None:
    said = said_of(tmp_path, 'title = "x"\nshape = "9:0"\n')
    assert said == "feed.toml.story.shape: '9:0' is not a shape such as '4:5'"


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("shape = 0.8", "shape: 0.8 is not a shape such as '4:5'"),
        ("shape = ['4:5']", "shape: ['4:5'] is not a range of two shapes"),
        ('shape = "1:101"', "shape: '1:101' is not a shape between '1:100' and '100:1'"),
        ("size_px = [1080, 0]", "size_px: 0 is not a side in pixels, a whole number 1 to 65535"),
        ("size_px = [1080.0, 1]", "size_px: 1080.0 is not a side in pixels"),
        ("size_px = 1080", "size_px: 1080 is not a size in pixels such as [1080, 1350]"),
        ("long_edge_px = '2048'", "long_edge_px: '2048' is not a side"),
        ("size_mm = [210]", "size_mm: [210] is not a width and height such as [210, 297]"),
        ("size_mm = [0, 297]", "size_mm: 0 is not above 0"),
        ("ppi = nan", "ppi: NaN is not a finite number"),
        ("ppi = inf", "ppi: Infinity is not a finite number"),
        ("ppi = true", "ppi: true is not a number such as 3, 0.125"),
        ("ppi = 1e90", "ppi: 1E+90 has more digits"),
        ("ppi = 123456789", "ppi: 123456789 is above 1000000"),
        ("bleed_mm = -3", "bleed_mm: -3 is below 0"),
        ('bleed_in = "1/0"', "bleed_in: '1/0' is not a number"),
        ("safe = 1.5", "safe: 1.5 is not a fraction of the frame, 0 to 1"),
        ("greatest_enlargement = 0.5", "greatest_enlargement: 0.5 is not a greatest enlargement"),
        ('frame = "oval"', "frame: 'oval' is none of 'rectangle' or 'circle'"),
        ('framing = "chest"', "framing: 'chest' is none of 'extreme close-up', 'big close-up'"),
        ('framing = ["bust"]', "framing: ['bust'] is not a tightest and a loosest shot"),
        (
            'across = "left"',
            "across: 'left' is none of 'as the master', 'lead', 'centre' or 'free'",
        ),
        ("turnable = 1", "turnable: 1 is neither true nor false"),
        ("title = 3", "title: 3 is not text in quotes"),
        ('title = "a\\u0000b"', "holds characters that cannot be shown"),
        ('groups = "social"', "groups: 'social' is not a list of names"),
        ('groups = ["Social"]', "groups: 'Social' is not a name such as 'tall-post'"),
        ('naming = "{0.__class__}"', "naming: '{0.__class__}' asks for {0.__class__}, which is no"),
        ("finish = { quality = 101 }", "finish.quality: 101 is not a quality, a whole number 1"),
        ('finish = { format = "bmp" }', "finish.format: 'bmp' is none of 'jpeg', 'png', 'webp'"),
        ('finish = { profile = "cmyk" }', "finish.profile: 'cmyk' is none of 'srgb'"),
        ('finish = { byte_cap = "small" }', "finish.byte_cap: 'small' is not a cap such as"),
        ("finish = 3", "finish: 3 is not a table such as { key = value }"),
        ("covered = 3", "covered: is not a list of tables: write [[story.covered]]"),
        ("covered = [{ name = 'a' }]", "covered.0.box: is missing; for example box = [0, 0"),
        ("live_areas = [{ name = 'a', box = [0, 0, 1] }]", "live_areas.0.box: [0, 0, 1] is not"),
        ("live_areas = [{ name = 'a', box = [1, 0, 0, 1] }]", "left before right and top before"),
        ("eye_line = { target = [0.3] , limits = [0, 1] }", "eye_line.target: [0.3] is not a span"),
        ("eye_line = { target = [0.4, 0.3], limits = [0, 1] }", "runs backwards"),
        ("eye_line = { target = [0.3, 0.4] }", "eye_line.limits: is missing"),
        ("shap = '4:5'", "shap: is no key here; did you mean shape?"),
        ("finish = { qualty = 3 }", "finish.qualty: is no key here; did you mean quality?"),
        ("covered = [3]", "covered.0: 3 is not a table such as { key = value }"),
        ("covered = [{ nam = 'a' }]", "covered.0.nam: is no key here; did you mean name?"),
        ("zzzz = 3", "zzzz: is no key here; there are title, description, groups"),
        ("gutter = { margn_mm = 3 }", "gutter.margn_mm: is no key here; did you mean margin_mm"),
    ],
)
def test_one_wrong_value(tmp_path: Path, line: str, said: str) -> None:
    body = line + "\n" if line.startswith("title") else f'title = "x"\n{line}\n'
    assert said in said_of(tmp_path, body)


def test_all_faults_of_all_files_are_told_at_once(tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_text('[one]\ntitle = "x"\nshape = "9:0"\nppi = -1\n')
    (tmp_path / "b.toml").write_text("[two\n")
    (tmp_path / "c.toml").write_text('[three]\ntitle = "x"\nshape = "1:1"\nbleed_mm = 3\n')
    with pytest.raises(PresetError) as told:
        load_presets(folders=[tmp_path])
    lines = str(told.value).splitlines()
    assert lines[0] == "4 faults in the presets:"
    places = [line.strip().split(":")[0] for line in lines[1:]]
    assert places == ["a.toml.one.shape", "a.toml.one.ppi", "b.toml", "c.toml.three.bleed_mm"]


ZONE = '{{ name = "z", box = {box}, keep_clear = "eyes" }}'

ROUND_AND_CROSSED = f"""title = "x"
size_px = [800, 800]
frame = "circle"
covered = [{ZONE.format(box="[0.1, 0, 0.9, 1]")}, {ZONE.format(box="[0, 0.1, 1, 0.9]")}]"""
"""Two zones that cross leave four corners free: a square would do, a circle has none."""


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ('title = "x"\n', "shape: is missing: state a shape such as '4:5', a size, or full_frame"),
        (SCREEN + "size_mm = [210, 297]\nppi = 300", "size_mm: size_px stands there already"),
        (SCREEN + "long_edge_px = 2048", "long_edge_px: size_px decides the pixels already"),
        (SCREEN + 'shape = "1:1"', "shape: does not agree with size_px, whose shape is 0.800:1"),
        (SCREEN + 'shape = ["4:5", "1:1"]', "shape: a range of shapes does not go with one"),
        (SCREEN + "may_be_smaller = true", "may_be_smaller: is about long_edge_px"),
        (SCREEN + "bleed_mm = 3", "bleed_mm: a screen has pixels, no paper"),
        (SCREEN + "least_ppi = 200", "least_ppi: a screen has pixels, no paper"),
        (SCREEN + "gutter = { margin_mm = 10 }", "gutter: a screen has no fold"),
        (SCREEN + 'finish = { medium = "canvas" }', "finish.medium: paper needs a size"),
        (SCREEN + "safe = 0.5", "safe: half the frame from each side leaves nothing"),
        ('title = "x"\nsize_mm = [210, 297]', "ppi: is missing: a size on paper needs pixels"),
        (PAGE + "least_ppi = 301", "least_ppi: 301 can never be reached: the file has 300 ppi"),
        (PAGE + "bleed_mm = 3\nbleed_in = 0.125", "bleed_in: bleed_mm stands there already"),
        (PAGE + "bleed_mm = 3\nwrap_mm = 40", "wrap: says what is cut or folded away"),
        (PAGE + "overlap_mm = 105", "overlap: 105 mm from each side leaves nothing"),
        (PAGE + "safe_mm = 5\nsafe = 0.1", "safe: is given as a fraction and as a length"),
        (PAGE + 'finish = { medium = "screen" }', "finish.medium: a size on paper is not looked"),
        (PAGE + "gutter = { }", "gutter: needs margin_mm"),
        (PAGE + "gutter = { margin_mm = 105 }", "gutter: the margin reaches past the edge"),
        (PAGE + "gutter = { margin_mm = 5, margin_in = 1 }", "gutter.margin_in: margin_mm stands"),
        (
            PAGE + 'frame = "circle"\ngutter = { margin_mm = 5 }',
            "gutter: a circle has no fold: drop the gutter, or the circle",
        ),
        (PAGE + 'turnable = true\nframe = "circle"', "turnable: a circle looks the same"),
        (
            PAGE + f"turnable = true\ncovered = [{ZONE.format(box='[0, 0, 1, 0.2]')}]",
            "turnable: covered zones belong to one way up",
        ),
        (
            PAGE + 'turnable = true\nlive_areas = [{ name = "a", box = [0, 0, 1, 0.5] }]',
            "turnable: the live area 'a' is not centred",
        ),
        (SCREEN + f"covered = [{ZONE.format(box='[0, 0, 1, 1]')}]", "covered: leaves no place"),
        (
            SCREEN
            + "covered = ["
            + ", ".join(ZONE.format(box=box) for box in ("[0, 0, 1, 0.6]", "[0, 0.5, 1, 1]"))
            + "]",
            "covered: leaves no place where eyes would be seen and nothing covers them",
        ),
        (
            SCREEN
            + 'live_areas = [{ name = "a", box = [0, 0, 1, 0.4] },'
            + '{ name = "b", box = [0, 0.6, 1, 1] }]',
            "live_areas: have no part in common",
        ),
        (
            ROUND_AND_CROSSED,
            "covered: leaves no place",
        ),
        (
            SCREEN + "eye_line = { target = [0.2, 0.3], limits = [0.25, 0.45] }",
            "eye_line: the target 0.2 to 0.3 does not lie within its limits 0.25 to 0.45",
        ),
        (SCREEN + 'framing = ["bust", "close-up"]', "framing: the tightest shot comes first"),
        (
            SCREEN + 'framing = "bust"\nhead_share = { target = [0.5, 0.6], limits = [0.5, 0.6] }',
            "framing: head_share decides how near the head is",
        ),
        (
            SCREEN
            + "head_share = { target = [0.8, 0.8], limits = [0.8, 0.8] }\n"
            + "eye_line = { target = [0.2, 0.2], limits = [0.1, 0.3] }",
            "eye_line: no head of 0.8 of the height fits with its eyes in these limits",
        ),
        (SCREEN + 'finish = { format = "png", byte_cap = 99999 }', "finish.byte_cap: png keeps"),
        (SCREEN + 'finish = { format = "tiff", quality = 90 }', "finish.quality: tiff keeps every"),
        (SCREEN + "finish = { bit_depth = 16 }", "finish.bit_depth: jpeg holds 8 bits"),
        (SCREEN + "finish = { bit_depth = 12 }", "finish.bit_depth: 12 is neither 8 nor 16"),
        (
            SCREEN + 'finish = { format = "webp", chroma = "4:4:4" }',
            "finish.chroma: webp always halves the colour",
        ),
        (SCREEN + "finish = { byte_cap = 900 }", "finish.byte_cap: 900 bytes cannot hold 1080 x"),
        (
            'title = "x"\nsize_px = [16384, 100]\nfinish = { format = "webp" }',
            "finish.format: webp cannot hold a side of 16384 px, only 16383",
        ),
        (
            'title = "x"\nsize_in = [400, 10]\nppi = 300',
            "finish.format: jpeg cannot hold a side of 120000 px",
        ),
        ('title = "x"\nfull_frame = true\nshape = "4:5"', "shape: full_frame keeps the whole"),
        ('title = "x"\nfull_frame = true\nframe = "circle"', "frame: full_frame keeps the whole"),
        ('title = "x"\nfull_frame = true\nbleed_mm = 3', "bleed_mm: full_frame keeps the whole"),
    ],
)
def test_a_preset_that_contradicts_itself(tmp_path: Path, body: str, said: str) -> None:
    assert said_of(tmp_path, body + "\n").startswith(f"feed.toml.story.{said}")
