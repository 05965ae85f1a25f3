"""Reading presets: the shipped ones, the photographer's own, and choosing among them."""

from __future__ import annotations

from pathlib import Path

import pytest

from cropper.destination.presets import Catalogue, load_presets
from cropper.errors import EXIT_MISUSED, EXIT_PRESET_AT_FAULT, MisuseError, PresetError
from cropper.master.spaces import SPACES

SHIPPED = [
    *("square-post", "tall-post", "story", "wide", "avatar", "profile-square", "page-header"),
    *("link-preview", "portfolio", "cover-a4", "cover-letter", "spread-a4"),
    *("cover-a4-pdf", "spread-a4-pdf", "print-4x6"),
    *("print-5x7", "print-8x10", "print-11x14", "print-10x15cm", "print-13x18cm", "print-a4"),
    *("canvas", "banner", "full-frame", "full-frame-web", "makeup-artist-copy", "model-copy"),
    *("id-2x2in", "id-35x45mm"),
]
MINE = """
[story]
title = "My story"
shape = "9:16"
[mill-wall]
title = "The mill's wall"
groups = ["mill"]
size_px = [3000, 1000]
"""


@pytest.fixture(scope="module")
def shipped() -> Catalogue:
    return load_presets()


def names(catalogue: Catalogue, *wanted: str) -> list[str]:
    return [one.name for one in catalogue.choose(wanted)]


def own(folder: Path, text: str, name: str = "mine.toml") -> Path:
    folder.mkdir(exist_ok=True)
    (folder / name).write_text(text, encoding="utf-8")
    return folder


def test_every_shipped_destination_is_there_in_order(shipped: Catalogue) -> None:
    assert [one.name for one in shipped.destinations] == SHIPPED
    assert shipped.notices == ()


def test_the_groups_are_these(shipped: Catalogue) -> None:
    assert list(shipped.groups) == [
        *("social", "web", "press", "press-pdf", "print", "client", "identity", "all")
    ]
    assert names(shipped, "identity") == ["id-2x2in", "id-35x45mm"]
    assert names(shipped, "all") == SHIPPED


def test_every_shipped_destination_says_what_it_is(shipped: Catalogue) -> None:
    for one in shipped.destinations:
        assert one.title
        assert one.groups, one.name
        assert one.preset_file.endswith(".toml")


def test_only_full_frames_are_uncropped_and_hardly_anything_on_a_screen_is_enlarged(
    shipped: Catalogue,
) -> None:
    full = {one.name for one in shipped.destinations if one.full_frame}
    assert full == {"full-frame", "full-frame-web", "makeup-artist-copy", "model-copy"}
    enlarged = {
        one.name: float(one.greatest_enlargement)
        for one in shipped.destinations
        if one.page_mm is None and one.greatest_enlargement > 1
    }
    phones = ("square-post", "tall-post", "story")
    assert enlarged == dict.fromkeys((*phones, "page-header"), 1.15)


def test_client_makeup_artist_and_model_get_the_whole_picture(shipped: Catalogue) -> None:
    recipients = {one.recipient for one in shipped.choose(["client"])}
    assert recipients == {"client", "makeup artist", "model"}


def test_names_and_groups_keep_their_order_and_come_once(shipped: Catalogue) -> None:
    chosen = names(shipped, "wide", "social", "story")
    assert chosen[:3] == ["wide", "square-post", "tall-post"]
    assert len(chosen) == len(set(chosen)) == 6


def test_names_may_be_typed_in_capitals(shipped: Catalogue) -> None:
    assert names(shipped, " Story ", "PRINT-A4") == ["story", "print-a4"]


def test_unknown_names_are_all_told_with_the_nearest_known_ones(shipped: Catalogue) -> None:
    with pytest.raises(MisuseError) as told:
        shipped.choose(["stroy", "story", "print4x6", "square", "zzz"])
    said = str(told.value)
    assert "'stroy' (did you mean 'story'?)" in said
    assert "'print4x6' (did you mean 'print-4x6'" in said
    assert "'square' (did you mean 'square-post'" in said
    assert "'zzz'" in said
    assert told.value.exit_code == EXIT_MISUSED


@pytest.mark.parametrize("nothing", [[], [""], ["  "]])
def test_choosing_nothing_is_a_misuse_that_lists_the_groups(
    shipped: Catalogue, nothing: list[str]
) -> None:
    with pytest.raises(MisuseError, match="social, web"):
        shipped.choose(nothing)


def test_an_own_destination_is_added_and_one_of_the_same_name_replaces_the_shipped(
    tmp_path: Path,
) -> None:
    catalogue = load_presets(folders=[own(tmp_path / "mine", MINE)])
    assert names(catalogue, "mill") == ["mill-wall"]
    (story,) = catalogue.choose(["story"])
    assert (story.title, story.covered, story.preset_file) == ("My story", (), "mine.toml")
    assert catalogue.notices == ("story: mine.toml replaces the one of 1-screens.toml",)
    assert len(catalogue.destinations) == len(SHIPPED) + 1


def test_of_several_folders_the_last_one_wins(tmp_path: Path) -> None:
    first = own(tmp_path / "first", MINE)
    last = own(tmp_path / "last", '[mill-wall]\ntitle = "Later"\nshape = "3:1"\n', "late.toml")
    (wall,) = load_presets(folders=[first, last]).choose(["mill-wall"])
    assert wall.title == "Later"


def test_a_file_called_like_a_shipped_one_is_told_apart_by_its_folder(tmp_path: Path) -> None:
    folder = own(tmp_path / "mine", MINE, "1-screens.toml")
    catalogue = load_presets(folders=[folder])
    assert "mine/1-screens.toml replaces the one of 1-screens.toml" in catalogue.notices[0]


def test_a_profile_file_beside_the_preset_is_found_and_a_missing_one_is_a_fault(
    tmp_path: Path,
) -> None:
    text = '[page]\ntitle = "Page"\nshape = "4:5"\nfinish = { profile = "press.icc" }\n'
    folder = own(tmp_path / "mine", text)
    with pytest.raises(PresetError, match=r"mine.toml.page.finish.profile: there is no file"):
        load_presets(folders=[folder])
    (folder / "press.icc").write_bytes(b"profile")
    with pytest.raises(PresetError, match="no profile of a grey, RGB or CMYK device"):
        load_presets(folders=[folder])
    (folder / "press.icc").write_bytes(SPACES["rec2020"].profile)
    (page,) = load_presets(folders=[folder]).choose(["page"])
    assert page.finish.profile == str((folder / "press.icc").resolve())


def test_a_table_without_framing_keeps_the_masters_own(tmp_path: Path) -> None:
    (wall,) = load_presets(folders=[own(tmp_path / "mine", MINE)]).choose(["mill-wall"])
    assert wall.framing is None
    assert wall.naming == "{version}_{destination}_{width}x{height}"


def test_a_folder_that_is_not_there_or_holds_no_preset_is_a_fault(tmp_path: Path) -> None:
    with pytest.raises(PresetError, match="cannot be read"):
        load_presets(folders=[tmp_path / "nowhere"])
    with pytest.raises(PresetError, match=r"no \.toml file") as told:
        load_presets(folders=[tmp_path])
    assert told.value.exit_code == EXIT_PRESET_AT_FAULT


def test_one_name_in_two_files_of_a_folder_is_a_fault(tmp_path: Path) -> None:
    folder = own(own(tmp_path / "mine", MINE), MINE, "other.toml")
    with pytest.raises(PresetError, match=r"other.toml.story: mine.toml holds a destination"):
        load_presets(folders=[folder])


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('[social]\ntitle = "x"\nshape = "1:1"\n', "is the name of a group as well"),
        ('[all]\ntitle = "x"\nshape = "1:1"\n', "is the name of the group of everything"),
        ('[x]\ntitle = "x"\nshape = "1:1"\ngroups = ["all"]\n', "'all' is the group"),
        ('[Tall_Post]\ntitle = "x"\n', "'Tall_Post' is not a name such as 'tall-post'"),
        ('title = "x"\n', "'x' stands outside any destination"),
        ("", "holds no destination"),
        (f'[x]\ntitle = "{"a" * 2001}"\nshape = "1:1"\n', "longer than 2000 characters"),
        ("[x\n", "is not TOML"),
        ("[x]\na = 1\na = 2\n", "is not TOML"),
    ],
)
def test_names_and_files_that_cannot_be(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(PresetError) as told:
        load_presets(folders=[own(tmp_path / "mine", text)])
    assert said in str(told.value)
    assert str(told.value).startswith("mine.toml")


def test_two_patterns_that_would_give_one_file_name_are_a_fault(tmp_path: Path) -> None:
    text = "".join(
        f'[{name}]\ntitle = "x"\nshape = "1:1"\nnaming = "{{version}}"\n' for name in ("one", "two")
    )
    with pytest.raises(PresetError, match=r"two\.naming: '{version}' is the pattern of one too"):
        load_presets(folders=[own(tmp_path / "mine", text)])


def test_a_file_that_is_not_text_or_too_large_is_a_fault(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_bytes(b"\xff\xfe[x]")
    with pytest.raises(PresetError, match=r"mine.toml: is not UTF-8 text"):
        load_presets(folders=[tmp_path])
    (tmp_path / "mine.toml").write_bytes(b"#" * 1_000_001)
    with pytest.raises(PresetError, match="too large for a preset"):
        load_presets(folders=[tmp_path])


def test_a_byte_order_mark_does_no_harm(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_bytes(b"\xef\xbb\xbf" + MINE.encode())
    assert names(load_presets(folders=[tmp_path]), "mill-wall") == ["mill-wall"]


def test_a_preset_that_cannot_be_opened_is_told_with_its_name(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").mkdir()
    with pytest.raises(PresetError, match=r"mine.toml: cannot be read"):
        load_presets(folders=[tmp_path])
