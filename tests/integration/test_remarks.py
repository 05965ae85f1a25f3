"""Remarks from CSV files as people really save them; one bad row never stops the others."""

from __future__ import annotations

import tracemalloc
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from cropper.account.remarks import Source, Taking, remarks
from cropper.account.tag_lists import find_tags, read_tags, starter
from cropper.errors import CropperError, MisuseError, PresetError, RecordError
from cropper.publication.responses import Design, Question, Remark

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)
ASKED = Question(
    name="which-runs",
    set="knitwear",
    versions=("hooded-shawl", "roll-neck"),
    design=Design.ONE_POLL,
    declared_at=NOON,
)


def taken(path: Path, **more: Any) -> tuple[list[Remark], Taking]:
    taking = Taking()
    source = Source(path=path, question=ASKED, outlet=more.pop("outlet", "feed"), **more)
    return list(remarks(source, taking)), taking


def written(tmp_path: Path, text: str, encoding: str = "utf-8") -> Path:
    path = tmp_path / "remarks.csv"
    path.write_bytes(text.encode(encoding))
    return path


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_usual_encodings_and_separators_are_read(
    tmp_path: Path, encoding: str, separator: str
) -> None:
    rows = [["version", "comment"], ["roll-neck", "Schöne Augen 👀 目"]]
    text = "\r\n".join(separator.join(row) for row in rows)
    (one,), taking = taken(written(tmp_path, text, encoding))
    assert (one.text, one.version, one.outlet, one.row) == (
        "Schöne Augen 👀 目",
        "roll-neck",
        "feed",
        2,
    )
    assert (taking.kept, taking.faulty) == (1, 0)


def test_authors_are_dropped_unless_asked_for(tmp_path: Path) -> None:
    path = written(tmp_path, "author,text\nO. Invented,lovely light\n")
    assert taken(path)[0][0].author == ""
    assert taken(path, keep_authors=True)[0][0].author == "O. Invented"


def test_a_bad_row_is_named_and_the_others_go_on(tmp_path: Path) -> None:
    path = written(
        tmp_path,
        "text,version,at\n"
        "fine,roll-neck,2026-03-02T14:05+01:00\n"
        "whose?,cape,\n"
        "when?,roll-neck,2026-03-02T14:05\n"
        "never,roll-neck,yesterday\n"
        ",roll-neck,\n"
        '"two\nlines",roll-neck,\n',
    )
    kept, taking = taken(path)
    assert [one.text for one in kept] == ["fine", "two\nlines"]
    assert kept[0].at == datetime(2026, 3, 2, 13, 5, tzinfo=UTC)
    assert [row for row, _ in taking.named] == [3, 4, 5]
    assert "not about a version 'cape'" in taking.named[0][1]
    assert "--zone" in taking.named[1][1]
    assert (taking.faulty, taking.empty) == (3, 1)


def test_a_zone_for_all_rows_can_be_said(tmp_path: Path) -> None:
    path = written(tmp_path, "text,at\nfine,2026-07-02T14:05\n")
    (one,), _ = taken(path, zone=ZoneInfo("Europe/Oslo"))
    assert one.at == datetime(2026, 7, 2, 12, 5, tzinfo=UTC)


def test_letters_of_another_encoding_are_named_by_row_and_read_when_it_is_said(
    tmp_path: Path,
) -> None:
    path = written(tmp_path, "text\nplain\nschön\n", "cp1252")
    kept, taking = taken(path)
    assert [one.text for one in kept] == ["plain"]
    assert "encoding" in taking.named[0][1]
    assert [one.text for one in taken(path, encoding="cp1252")[0]] == ["plain", "schön"]


@pytest.mark.parametrize(
    ("text", "more", "sentence"),
    [
        ("", {}, "no column holds the remarks"),
        ("a,b\n1,2\n", {}, "Its headings: 'a', 'b'"),
        ("text\nx\n", {"outlet": ""}, "no column tells the outlet"),
        ("text\nx\n", {"columns": {"at": "Zeit"}}, "no column is headed 'Zeit'"),
        ("text\nx\n", {"encoding": "klingon"}, "no encoding"),
    ],
)
def test_a_file_that_cannot_be_placed_says_so(
    tmp_path: Path, text: str, more: dict[str, Any], sentence: str
) -> None:
    with pytest.raises(MisuseError) as caught:
        taken(written(tmp_path, text), **more)
    assert sentence in str(caught.value)


def test_a_picture_taken_for_a_table_is_a_sentence_that_any_terminal_can_show(
    tmp_path: Path,
) -> None:
    path = tmp_path / "picture.csv"
    path.write_bytes(b"\xff\xd8\xff\xe0\x00\x10JFIF\x00,\x81\n" * 40)
    with pytest.raises(MisuseError, match="no column holds the remarks") as caught:
        taken(path)
    str(caught.value).encode("utf-8")


def test_names_that_do_not_decode_are_a_fault_of_their_row_alone(tmp_path: Path) -> None:
    path = tmp_path / "remarks.csv"
    path.write_bytes(b"text,version\nfine,roll-neck\nwhose,c\xe4pe\n")
    kept, taking = taken(path)
    assert len(kept) == 1
    taking.named[0][1].encode("utf-8")


def test_headings_of_ones_own_are_named(tmp_path: Path) -> None:
    path = written(tmp_path, "Kommentar;Bild\nschön;roll-neck\n")
    (one,), _ = taken(path, columns={"text": "Kommentar", "version": "bild"})
    assert (one.text, one.version) == ("schön", "roll-neck")


def test_a_quotation_mark_never_closed_is_a_sentence(tmp_path: Path) -> None:
    path = written(tmp_path, 'text\nfine\n"' + "never closed " * 20_000)
    with pytest.raises(RecordError, match="quotation mark"):
        taken(path)


def test_a_file_that_is_not_there_is_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(RecordError, match="cannot be read"):
        taken(tmp_path / "none.csv")


def many(tmp_path: Path, rows: int) -> int:
    """The most memory, in bytes, that reading so many rows needs at once."""
    path = tmp_path / f"{rows}.csv"
    with path.open("w", encoding="utf-8") as file:
        file.write("text,version\n")
        file.writelines(f"remark number {row} on the light,roll-neck\n" for row in range(rows))
    drawn: Iterator[Remark] = remarks(Source(path=path, question=ASKED, outlet="feed"), Taking())
    tracemalloc.start()
    assert sum(1 for _ in drawn) == rows
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak


def test_ten_times_the_rows_need_no_more_memory(tmp_path: Path) -> None:
    many(tmp_path, 100)
    assert many(tmp_path, 10_000) < 1.2 * many(tmp_path, 1_000)


def test_progress_reaches_the_end(tmp_path: Path) -> None:
    path = written(tmp_path, "text\n" + "light\n" * 12_000)
    told: list[tuple[int, int]] = []
    source = Source(path=path, question=ASKED, outlet="feed")
    list(remarks(source, Taking(), lambda done, of: told.append((done, of))))
    assert len(told) == 3
    assert told[-1] == (path.stat().st_size, path.stat().st_size)


def test_the_starter_is_written_once_and_read_back(tmp_path: Path) -> None:
    path = tmp_path / "tags.toml"
    assert starter(path)
    assert "eyes" in read_tags(path).words
    path.write_text("[tags]\nmine = ['wool']\n", encoding="utf-8")
    assert not starter(path)
    assert read_tags(path).words == {"mine": ("wool",)}


def test_the_jobs_own_tags_go_before_the_users(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    job = tmp_path / "job"
    assert find_tags(job) is None
    starter(tmp_path / "data" / "cropper" / "tags.toml")
    assert find_tags(job) == tmp_path / "data" / "cropper" / "tags.toml"
    starter(job / "tags.toml")
    assert find_tags(job) == job / "tags.toml"


@pytest.mark.parametrize("content", [b"[tags", b"\xff\xfe\x00"])
def test_tags_that_are_no_toml_are_a_sentence(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "tags.toml"
    path.write_bytes(content)
    with pytest.raises(PresetError):
        read_tags(path)
    assert issubclass(PresetError, CropperError)


def test_remarks_keep_the_time_they_were_made(tmp_path: Path) -> None:
    path = written(tmp_path, "text,time\nfine,2026-03-02T14:05Z\n")
    (one,), _ = taken(path)
    assert one.at == NOON + timedelta(hours=2, minutes=5)
