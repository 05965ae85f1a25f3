"""Recording runs on real databases: what is kept, what is refused, and that nothing is lost."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from cropper.errors import RecordError, RivalsError
from cropper.publication.bars import Rule
from cropper.publication.facts import Asked
from cropper.publication.licences import Licence, LicenceKind
from cropper.publication.outlets import Outlet, OutletKind
from cropper.publication.releases import Release, ReleaseStatus
from cropper.publication.runs import Piece, Run, RunState, SetRules
from cropper.publication.spans import Span
from cropper.record.opening import open_record
from cropper.record.record import Record
from cropper.record.rows import Stamp

NOW = datetime(2026, 3, 1, 9, tzinfo=UTC)
STAMP = Stamp(at=NOW, by="R. Quillfeather")
WALL = Outlet(name="mill-wall", kind=OutletKind.PLACED, audience=frozenset({"visitors", "buyers"}))
FEED = Outlet(name="my-pages", kind=OutletKind.STREAM, audience=frozenset({"followers"}))
ROLL = Piece(
    sha256="a" * 64,
    file="roll_page-header.jpg",
    version="roll",
    destination="page-header",
    master_sha256="c" * 64,
    set="shawl",
    crop=(0, 10, 400, 500),
    people=("Ilse Marrow",),
)
HOOD = Piece(
    sha256="b" * 64,
    file="hood_page-header.jpg",
    version="hood",
    destination="page-header",
    master_sha256="d" * 64,
    set="shawl",
)


def day(number: int) -> datetime:
    return NOW + timedelta(days=number)


def run(piece: Piece, start: int, until: int | None, **more: Any) -> Run:
    span = Span(day(start), None if until is None else day(until))
    given = {"id": f"{piece.version}-{start}", "outlet": "mill-wall", **more}
    return Run(piece=piece.sha256, version=piece.version, set=piece.set, span=span, **given)


@pytest.fixture
def filled(record: Record) -> Record:
    record.keep_outlets([WALL, FEED], STAMP)
    record.take_in([ROLL, HOOD], STAMP)
    return record


def test_what_is_recorded_is_read_back_as_it_was(filled: Record) -> None:
    deal = Licence(
        id="deal",
        kind=LicenceKind.TERM,
        span=Span(day(0), day(90)),
        outlet="mill-wall",
        set="shawl",
    )
    release = Release(id="r", person="Ilse Marrow", status=ReleaseStatus.UNLIMITED)
    filled.keep_licence(deal, STAMP)
    filled.keep_release(release, STAMP)
    filled.keep_set(SetRules(name="shawl", versions=("hood", "roll"), rest_days=7), STAMP)
    filled.bar("hood", "refused in review", STAMP)
    kept = filled.record_run(run(ROLL, 0, 30), STAMP)
    facts = filled.facts()
    assert facts.runs == (kept.run,)
    assert dict(facts.outlets) == {"mill-wall": WALL, "my-pages": FEED}
    assert {one.sha256: one.crop for one in facts.pieces} == {
        ROLL.sha256: ROLL.crop,
        HOOD.sha256: HOOD.crop,
    }
    assert facts.licences[0].span == deal.span
    assert facts.releases["Ilse Marrow"] == release
    assert facts.sets["shawl"].rest_days == 7
    assert dict(facts.barred) == {"hood": "refused in review"}


def test_a_clash_is_refused_and_nothing_is_half_recorded(filled: Record) -> None:
    filled.record_run(run(ROLL, 0, 30), STAMP)
    with pytest.raises(RivalsError, match="Its rival 'roll'") as caught:
        filled.record_run(run(HOOD, 29, 40), STAMP)
    assert "31 March 2026" in str(caught.value)
    assert [one.version for one in filled.facts().runs] == ["roll"]
    filled.record_run(run(HOOD, 30, 40), STAMP)


def test_a_clash_may_be_recorded_for_a_reason_that_is_kept(filled: Record) -> None:
    filled.record_run(run(ROLL, 0, 30), STAMP)
    kept = filled.record_run(
        run(HOOD, 10, 20), STAMP, despite={Rule.RIVALS: "the mill asked for both"}
    )
    assert [one.rule for one in kept.clashes] == [Rule.RIVALS]
    (entry,) = filled.history("hood-10")
    assert entry.why == "despite rivals: the mill asked for both"


def test_a_correction_stands_beside_what_it_corrects(filled: Record) -> None:
    filled.record_run(run(ROLL, 0, 30), STAMP)
    later = Stamp(at=day(2), by="R. Quillfeather", why="it ran a week longer")
    filled.correct_run("roll-0", later, span=Span(day(0), day(37)))
    (now,) = filled.facts().runs
    assert now.span.until == day(37)
    assert now.revision == 1
    (then,) = filled.facts(known_at=day(1)).runs
    assert then.span.until == day(30)
    assert [one.superseded for one in filled.history("roll-0")] == [True, False]


def test_a_run_ends_or_is_withdrawn_and_stays_in_the_history(filled: Record) -> None:
    filled.record_run(run(ROLL, 0, None), STAMP)
    ended = filled.end_run("roll-0", day(5), Stamp(at=day(6)))
    assert ended.run.state is RunState.ENDED
    assert filled.withdraw_run("roll-0", Stamp(at=day(7))).run.state is RunState.WITHDRAWN
    assert len(list(filled.history("roll-0"))) == 3


def test_a_run_that_clashes_by_now_can_still_be_corrected_and_ended(filled: Record) -> None:
    filled.record_run(run(ROLL, 0, 30), STAMP)
    filled.record_run(run(HOOD, 10, None), STAMP, despite={Rule.RIVALS: "the mill asked for both"})
    filled.bar("hood", "refused in review", STAMP)
    filled.correct_run("hood-10", STAMP, page="3")
    with pytest.raises(RivalsError, match="Its rival 'roll'"):
        filled.correct_run("hood-10", STAMP, span=Span(day(5), None))
    ended = filled.end_run("hood-10", day(12), Stamp(at=day(12)))
    assert ended.run.state is RunState.ENDED
    assert {one.rule for one in ended.clashes} == {Rule.RIVALS, Rule.BARRED}


def test_a_run_that_was_withdrawn_is_checked_anew_when_it_comes_back(filled: Record) -> None:
    filled.record_run(run(HOOD, 0, 30), STAMP)
    filled.withdraw_run("hood-0", STAMP)
    filled.record_run(run(ROLL, 0, 30), STAMP)
    with pytest.raises(RivalsError, match="Its rival 'roll'"):
        filled.correct_run("hood-0", STAMP, state=RunState.LIVE)


def test_saying_the_same_again_adds_no_row(filled: Record) -> None:
    rows = len(list(filled.history()))
    assert filled.keep_outlets([WALL, FEED], STAMP) == ()
    assert filled.take_in([ROLL], STAMP) == ()
    assert len(list(filled.history())) == rows


def test_a_renamed_copy_is_the_same_piece(filled: Record) -> None:
    known = filled.piece(ROLL.sha256)
    assert known is not None
    assert known.file == "roll_page-header.jpg"
    assert filled.pieces_called("hood_page-header.jpg")[0].version == "hood"
    assert filled.piece("0" * 64) is None


def test_a_snapshot_is_narrowed_to_what_is_asked(filled: Record) -> None:
    filled.record_run(run(ROLL, 0, 30), STAMP)
    filled.record_run(run(HOOD, 30, None), STAMP)
    other = Piece(
        sha256="e" * 64, file="x.jpg", version="scarf", destination="story", master_sha256="f" * 64
    )
    filled.take_in([other], STAMP)
    filled.record_run(run(other, 3, 9, outlet="my-pages"), STAMP)

    def versions(**asked: Any) -> list[str]:
        return [one.version for one in filled.facts(Asked(**asked)).runs]

    assert versions(sets=("shawl",)) == ["roll", "hood"]
    assert versions(outlets=("my-pages",)) == ["scarf"]
    assert versions(audience=("buyers",)) == ["roll", "hood"]
    assert versions(span=Span(day(30), day(31))) == ["hood"]
    assert versions(span=Span(day(29), day(30))) == ["roll"]
    assert versions(versions=("scarf",), sets=("shawl",)) == ["roll", "scarf", "hood"]
    assert versions(pieces=(ROLL.sha256,)) == ["roll"]


def test_of_two_seats_recording_rivals_at_once_one_is_refused(address: str) -> None:
    with open_record(address) as first:
        first.keep_outlets([WALL], STAMP)
        first.take_in([ROLL, HOOD], STAMP)

    def seat(piece: Piece) -> str:
        with open_record(address) as mine:
            try:
                mine.record_run(run(piece, 0, 30), STAMP)
            except RivalsError:
                return "refused"
            return "kept"

    with ThreadPoolExecutor(2) as seats:
        told = sorted(seats.map(seat, [ROLL, HOOD]))
    assert told == ["kept", "refused"]
    with open_record(address) as after:
        assert len(after.facts().runs) == 1


def test_many_seats_lose_nothing(address: str) -> None:
    with open_record(address) as first:
        first.keep_outlets([WALL], STAMP)
        first.take_in([ROLL], STAMP)

    def seat(number: int) -> None:
        with open_record(address) as mine:
            for turn in range(4):
                start = (number * 4 + turn) * 2
                mine.record_run(run(ROLL, start, start + 1), STAMP)

    with ThreadPoolExecutor(5) as seats:
        list(seats.map(seat, range(5)))
    with open_record(address) as after:
        assert len({one.id for one in after.facts().runs}) == 20


def test_of_two_corrections_of_one_run_both_stand_in_a_row(filled: Record, address: str) -> None:
    filled.record_run(run(ROLL, 0, 30), STAMP)
    with open_record(address) as other:
        other.correct_run("roll-0", STAMP, page="3")
        filled.correct_run("roll-0", STAMP, issue="spring")
    (now,) = filled.facts().runs
    assert (now.page, now.issue, now.revision) == ("3", "spring", 2)


def test_unknown_runs_and_outlets_are_named_with_the_way_out(filled: Record) -> None:
    with pytest.raises(RecordError, match="knows no run 'nothing'"):
        filled.end_run("nothing", day(1), STAMP)
    with pytest.raises(RecordError, match="mill-wall, my-pages"):
        filled.record_run(run(ROLL, 0, 1, outlet="the-moon"), STAMP)
    filled.record_run(run(ROLL, 0, 1), STAMP)
    with pytest.raises(RecordError, match="recorded already"):
        filled.record_run(run(ROLL, 0, 1), STAMP)
