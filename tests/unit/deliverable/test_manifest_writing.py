"""A manifest written and read row by row is the manifest that would be laid out at once."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cropper.deliverable.manifest import Delivered, Manifest, NotDelivered, TextFile
from cropper.deliverable.manifest_reading import head_of, lists, rows_of
from cropper.deliverable.manifest_writing import open_manifest

WORD = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
FILES = st.builds(
    Delivered,
    file=WORD,
    sha256=st.just("ab" * 32),
    bytes=st.integers(0, 10**7),
    width=st.integers(1, 9000),
    height=st.integers(1, 9000),
    ppi=st.none() | st.sampled_from([300.0, 254.5]),
    destination=WORD,
    outlet=st.none() | WORD,
    recipient=WORD,
    set=st.none(),
    version=WORD,
    master=WORD,
    master_sha256=st.just("cd" * 32),
    crop=st.just((0, 0, 10, 20)),
    trim=st.just((0.0, 0.0, 10.0, 20.25)),
    straighten_deg=st.just(0.0),
    proposed_by=st.just("cropper"),
    verdict=st.just("holds"),
    rules=st.just(
        ({"rule": "crown", "value": float("inf"), "sentence": "ä" * 90, "verdict": "x"},)
    ),
    notes=st.lists(WORD, max_size=2).map(tuple),
)
MISSING = st.builds(
    NotDelivered, destination=WORD, set=st.none(), version=WORD, master=WORD, reason=WORD
)
TEXTS = st.builds(TextFile, file=WORD, sha256=st.just("ef" * 32))


def put(folder: Path, manifest: Manifest, made_at: str = "then") -> None:
    with open_manifest(
        folder, made_by=manifest.made_by, made_at=made_at, job=manifest.job
    ) as under_way:
        for row in manifest.delivered:
            under_way.add(row)
        under_way.close(manifest.not_delivered, manifest.texts)


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(FILES, max_size=3), st.lists(MISSING, max_size=2), st.lists(TEXTS, max_size=2))
def test_it_is_laid_out_as_if_at_once_and_reads_back(
    tmp_path: Path, files: list[Delivered], missing: list[NotDelivered], texts: list[TextFile]
) -> None:
    manifest = Manifest(
        made_by="cropper",
        made_at="then",
        delivered=tuple(files),
        not_delivered=tuple(missing),
        texts=tuple(texts),
        job="5e" * 16,
    )
    for path in tmp_path.iterdir():
        path.unlink()
    put(tmp_path, manifest)
    assert (tmp_path / "manifest.json").read_text("utf-8") == manifest.json_text()
    assert (tmp_path / "manifest.csv").read_bytes() == manifest.csv_text().encode()
    assert (
        tmp_path / "not_delivered.csv"
    ).read_bytes() == manifest.not_delivered_csv_text().encode()
    told = json.loads(manifest.json_text())
    for part in ("delivered", "not_delivered", "texts"):
        assert list(rows_of(tmp_path / "manifest.json", part)) == told[part]
        assert lists(tmp_path / "manifest.json", part)
    assert head_of(tmp_path / "manifest.json", "made_at") == "then"
    assert len(list(tmp_path.iterdir())) == 3


def test_one_that_says_the_same_stays_as_it_was(tmp_path: Path) -> None:
    missing = NotDelivered(
        destination="print", set=None, version="shawl", master="s.jpg", reason=""
    )
    manifest = Manifest(made_by="x", made_at="", delivered=(), not_delivered=(missing,))
    put(tmp_path, manifest, "earlier")
    put(tmp_path, manifest, "later")
    assert head_of(tmp_path / "manifest.json", "made_at") == "earlier"
    put(tmp_path, Manifest(made_by="x", made_at="", delivered=(), not_delivered=()), "later")
    assert head_of(tmp_path / "manifest.json", "made_at") == "later"


def test_one_that_is_broken_off_leaves_the_old_one_standing(tmp_path: Path) -> None:
    empty = Manifest(made_by="x", made_at="", delivered=(), not_delivered=())
    put(tmp_path, empty, "earlier")
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    with (
        pytest.raises(RuntimeError),
        open_manifest(tmp_path, made_by="x", made_at="later"),
    ):
        raise RuntimeError
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before
