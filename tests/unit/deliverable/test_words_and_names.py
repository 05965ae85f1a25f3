"""Words, packets and file names: text only."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from cropper.deliverable.cutting import ELLIPSIS
from cropper.deliverable.iim import iim, iim_cuts
from cropper.deliverable.naming import apart, file_name
from cropper.deliverable.packets import xmp
from cropper.deliverable.words import NO_WORDS, Words, cleaned
from cropper.destination.destination import Destination, Finish, ShapeRange
from cropper.geometry import Size


@given(text=st.text(max_size=300))
def test_any_text_becomes_well_formed_xmp_that_says_it(text: str) -> None:
    clean, _ = cleaned(Words(caption=text, creator=text))
    packet = xmp(clean)
    if clean.none:
        assert packet == b""
        return
    tree = etree.fromstring(packet)
    assert clean.caption in "".join(tree.itertext())


@given(text=st.text(min_size=1, max_size=400))
def test_iim_keeps_its_limits_and_never_cuts_a_character(text: str) -> None:
    clean, _ = cleaned(Words(credit=text))
    records = iim(clean)
    if not records:
        return
    at = records.index(b"\x1c\x02\x6e")
    length = int.from_bytes(records[at + 3 : at + 5], "big")
    assert length <= 32  # IIM 4.2, 2:110
    written = records[at + 5 : at + 5 + length].decode()
    if written != clean.credit:
        assert ELLIPSIS in written
        assert clean.credit.startswith(written.split(ELLIPSIS)[0])
        assert iim_cuts(clean)


def test_no_words_write_nothing() -> None:
    assert xmp(NO_WORDS) == b""
    assert iim(NO_WORDS) == b""


def test_what_is_cut_is_said() -> None:
    _, said = cleaned(Words(headline="h" * 5000))
    assert said == ("the headline was cut from 5000 to 1598 characters",)


def post(naming: str) -> Destination:
    shape = Fraction(4, 5)
    return Destination(
        name="tall-post",
        title="Tall post",
        shape=ShapeRange(shape, shape),
        naming=naming,
        finish=Finish(format="tiff"),
    )


@given(version=st.text(max_size=400), master=st.text(max_size=400))
def test_any_names_make_a_portable_file_name(version: str, master: str) -> None:
    name = file_name(
        post("{version}_{master}_{width}x{height}"), Size(8, 10), version=version, master=master
    )
    assert len(name.encode()) <= 255  # POSIX NAME_MAX
    assert not name.startswith(("-", "."))
    assert set(name) <= set("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789._-")
    assert name.endswith(".tif")


def test_two_pictures_never_share_a_name() -> None:
    assert apart("wool.jpg", {"WOOL.jpg"}) == "wool-2.jpg"
    assert apart("wool.jpg", {"silk.jpg"}) == "wool.jpg"
