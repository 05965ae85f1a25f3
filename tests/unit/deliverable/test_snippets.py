"""Text beside the deliverables, read back by an HTML parser that is not ours."""

from __future__ import annotations

from html.parser import HTMLParser
from typing import Any
from urllib.parse import unquote

from hypothesis import given
from hypothesis import strategies as st

from cropper.deliverable.manifest import Delivered
from cropper.deliverable.snippets import (
    copy_text,
    image_families,
    open_graph_snippet,
    srcset_snippet,
)
from cropper.deliverable.worded import Worded
from cropper.deliverable.words import Words

NASTY = """Wool "and" <b>copper</b> & light's\n--> ]]> </script> 漢字 👩‍👩‍👧 \u200fאב"""


def row(file: str, width: int, height: int, **more: Any) -> Delivered:
    told: dict[str, Any] = {
        "sha256": "0" * 64,
        "bytes": 1,
        "ppi": None,
        "destination": "web",
        "outlet": None,
        "recipient": "",
        "set": None,
        "version": "shawl",
        "master": "shawl.tif",
        "master_sha256": "1" * 64,
        "crop": (0, 0, 4000, 5000),
        "trim": (0.0, 0.0, 1.0, 1.0),
        "straighten_deg": 0.0,
        "proposed_by": "cropper",
        "verdict": "holds",
        "rules": (),
    }
    return Delivered(file=file, width=width, height=height, **{**told, **more})


SMALL, LARGE = row("a_400.jpg", 400, 500), row("a_800.jpg", 800, 1000)
WORDED = Worded(
    words=Words(headline="Wool & copper"),
    credit_line="Photo: R. Quillfeather",
    caption="A hooded shawl.",
    alt_text=NASTY,
    language="en",
)


def tags(text: str) -> list[tuple[str, dict[str, str | None]]]:
    """Start tags by the standard library's parser."""
    found: list[tuple[str, dict[str, str | None]]] = []

    class Reader(HTMLParser):
        def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
            found.append((tag, dict(attrs)))

    Reader().feed(text)
    return found


def test_the_words_to_copy_stand_under_their_headings() -> None:
    told = Worded(credit_line="Photo: R. Quillfeather", caption="Wool.\nCopper.", alt_text="")
    assert copy_text(told, title="Story") == (
        "Story\n\nCredit line\nPhoto: R. Quillfeather\n\nCaption\nWool.\nCopper.\n"
    )
    assert copy_text(Worded(), title="Story") == ""


def test_the_browser_gets_every_size_of_one_crop_and_the_place_it_will_need() -> None:
    ((tag, image),) = tags(srcset_snippet([LARGE, SMALL], WORDED))
    assert tag == "img"
    assert image["srcset"] == "a_400.jpg 400w, a_800.jpg 800w"
    assert (image["src"], image["width"], image["height"]) == ("a_800.jpg", "800", "1000")
    assert image["alt"] == " ".join(NASTY.split())
    assert image["sizes"] == "100vw"
    assert image["lang"] == "en"


def test_other_kinds_of_file_come_first_in_a_picture() -> None:
    rows = [SMALL, row("a_400.webp", 400, 500), row("a_400.avif", 400, 500)]
    found = tags(srcset_snippet(rows, WORDED))
    # HTML Living Standard 4.8.1: sources first, the img last
    assert [tag for tag, _ in found] == ["picture", "source", "source", "img"]
    assert [told["type"] for _, told in found[1:3]] == ["image/avif", "image/webp"]
    assert found[3][1]["src"] == "a_400.jpg"


def test_only_files_that_show_the_same_crop_are_a_family() -> None:
    other_crop = row("b.jpg", 400, 500, crop=(600, 0, 4600, 5000))
    other_shape = row("c.jpg", 500, 500, crop=(0, 0, 4000, 4000))
    other_version = row("d.jpg", 400, 500, version="roll-neck")
    paper = row("e.jpg", 400, 500, ppi=300.0)
    press = row("f.tif", 400, 500)
    nearly = row("g.jpg", 600, 751, crop=(10, 0, 4010, 5006))
    rows = [SMALL, other_crop, other_shape, other_version, paper, press, nearly, LARGE]
    families = [[one.file for one in family] for family in image_families(rows)]
    assert families == [["a_400.jpg", "g.jpg", "a_800.jpg"], ["b.jpg"], ["c.jpg"], ["d.jpg"]]


def test_a_link_preview_has_the_protocols_properties_and_an_address_to_fill_in() -> None:
    """Names from the Open Graph protocol (ogp.me, structured properties of og:image)."""
    text = open_graph_snippet(LARGE, WORDED)
    assert "Fill in the address" in text
    found = {str(meta["property"]): meta["content"] for tag, meta in tags(text) if tag == "meta"}
    assert found == {
        "og:title": "Wool & copper",
        "og:image": "https://FILL-IN.example/pictures/a_800.jpg",
        "og:image:type": "image/jpeg",
        "og:image:width": "800",
        "og:image:height": "1000",
        "og:image:alt": " ".join(NASTY.split()),
    }
    there = open_graph_snippet(LARGE, WORDED, address="https://fernhollow.example/wool/")
    assert "Fill in" not in there
    assert "https://fernhollow.example/wool/a_800.jpg" in there


def test_a_missing_alt_text_is_said_and_never_passed_off_as_a_decoration() -> None:
    for text in (srcset_snippet([SMALL], Worded()), open_graph_snippet(SMALL, Worded())):
        assert "The alt text is missing" in text


def test_no_files_make_no_snippet() -> None:
    assert srcset_snippet([], WORDED) == ""
    assert srcset_snippet([row("f.tif", 400, 500)], WORDED) == ""


@given(alt=st.text(max_size=100), name=st.text(min_size=1, max_size=30))
def test_any_words_and_names_stay_in_their_attribute(alt: str, name: str) -> None:
    name = "".join(one for one in name if one.isprintable() and one not in "/\\.") or "x"
    found = tags(srcset_snippet([row(f"{name}.jpg", 400, 500)], Worded(alt_text=alt)))
    assert [tag for tag, _ in found] == ["img"]
    assert set(found[0][1]) == {"src", "width", "height", "alt"}
    assert unquote(found[0][1]["src"] or "") == f"{name}.jpg"
