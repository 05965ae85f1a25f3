"""A person's name, address or words leave the record for good, and the history stays sound."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from cropper.errors import MisuseError, RecordError
from cropper.publication.bars import Rule
from cropper.publication.releases import Release, ReleaseStatus
from cropper.publication.responses import Design, Question, Remark
from cropper.record.backing import back_up, restore
from cropper.record.erasing import erase, occurrences
from cropper.record.opening import open_record
from cropper.record.record import Record
from cropper.record.rows import Stamp
from tests.integration.record.test_later_agreements import SHOP
from tests.integration.record.test_recording import FEED, HOOD, NOW, ROLL, STAMP, WALL, day, run

NAME = "Ilse Marrow"


@pytest.fixture
def filled(record: Record) -> Record:
    record.keep_outlets([WALL, FEED, SHOP], STAMP)
    record.take_in([ROLL, HOOD], STAMP)
    signed = Release(id="r", person=NAME, status=ReleaseStatus.UNLIMITED, scope="Ilse  marrow, all")
    record.keep_release(signed, STAMP)
    record.record_run(run(ROLL, 0, 30, who=NAME, note=f"{NAME} asked; not Wilse Marrowby"), STAMP)
    record.correct_run("roll-0", Stamp(at=day(1), by=NAME, why=f"{NAME} called"), note="")
    record.add_question(
        Question(
            name="q",
            set="shawl",
            versions=("roll", "hood"),
            design=Design.ONE_POLL,
            declared_at=NOW,
        )
    )
    said = {"question": "q", "outlet": "my-pages", "version": "roll", "source": "s"}
    record.add_remarks(
        [
            Remark(**said, text="so calm", author=NAME, row=1),  # type: ignore[arg-type]
            Remark(**said, text="her eyes", author="T.", row=2),  # type: ignore[arg-type]
        ]
    )
    return record


def test_a_name_is_nowhere_any_more_and_an_entry_says_that_something_was_erased(
    filled: Record,
) -> None:
    found = occurrences(filled, "ilse marrow")
    assert dict(found.rows) == {"piece": 1, "release": 1, "remark": 1, "run": 2}
    done = erase(filled, "ilse marrow", Stamp(at=day(2), by="R. Quillfeather"))
    assert not occurrences(filled, NAME).rows
    told = [f"{one.body}{one.why}{one.recorded_by}{one.thread}" for one in filled.history()]
    assert any("Wilse Marrowby" in one for one in told)
    bare = [one.replace("Wilse Marrowby", "").casefold() for one in told]
    assert not [one for one in bare if NAME.casefold() in one]
    (entry,) = (one for one in filled.history(done.stands_for_it) if one.kind == "erasure")
    assert entry.body["rows"] == dict(found.rows)
    with pytest.raises(RecordError, match="no such words"):
        erase(filled, NAME, STAMP)


def test_the_rules_and_the_history_hold_as_before(filled: Record, tmp_path: Path) -> None:
    entries = [(one.kind, one.superseded, one.recorded_at) for one in filled.history()]
    erase(filled, NAME, Stamp(at=NOW + timedelta(days=9)))
    later = [one for one in filled.history() if one.kind != "erasure"]
    assert [(one.kind, one.superseded, one.recorded_at) for one in later] == entries
    shop = run(ROLL, 40, 50, id="new", outlet="mill-shop")
    assert not filled.may(shop), "the release still meets its person's pictures"
    (token,) = filled.facts().releases
    withdrawn = Release(id="r", person=token, status=ReleaseStatus.NONE)
    filled.keep_release(withdrawn, STAMP)
    assert [one.rule for one in filled.may(shop)] == [Rule.RELEASE]
    file = tmp_path / "after.backup"
    back_up(filled, file)
    assert NAME not in file.read_text()
    with open_record(str(tmp_path / "again.sqlite")) as again:
        restore(again, file)
        assert list(again.history()) == list(filled.history())


def test_remarks_lose_their_words_when_that_is_asked(filled: Record) -> None:
    erase(filled, NAME, STAMP, whole_remarks=True)
    texts = [one.text for one in filled.remarks("shawl", "q")]
    assert texts[1] == "her eyes"
    assert texts[0].startswith("[erased ")


def test_the_files_of_the_database_hold_no_trace(tmp_path: Path) -> None:
    place = tmp_path / "record.sqlite"
    with open_record(str(place)) as record:
        record.keep_outlets([WALL], STAMP)
        record.take_in([ROLL], STAMP)
        record.record_run(run(ROLL, 0, 30, note=f"{NAME} " * 400), STAMP)
        erase(record, NAME, STAMP)
    for file in tmp_path.iterdir():
        assert NAME.encode() not in file.read_bytes(), file.name


def test_words_too_short_are_refused_and_names_that_stay_are_told(filled: Record) -> None:
    with pytest.raises(MisuseError):
        erase(filled, "a", STAMP)
    assert occurrences(filled, "roll").names == ("roll", "roll-0")
    assert occurrences(filled, "live").names == ("live",)
