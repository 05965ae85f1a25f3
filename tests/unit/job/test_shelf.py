"""Masters stand in files of their own; whatever stops a run, what is there can be read."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from fractions import Fraction
from pathlib import Path

import pytest

from cropper.destination.destination import Destination, ShapeRange
from cropper.errors import JobError
from cropper.geometry import Crop, PixelBox, Size
from cropper.job import codec, putting, shelf
from cropper.job.plan import Choice, Plan, PlannedMaster, WaitingMaster
from cropper.job.shelf import Shelf
from cropper.job.store import JobFolder
from cropper.proposal.proposal import Answer, Proposal, Verdict
from cropper.subject.subject import Finding

NOW = datetime(2026, 3, 4, 5, 6, tzinfo=UTC)


def a_proposal(x: int) -> Proposal:
    return Proposal(
        destination="story",
        crop=Crop(PixelBox(x, 0, x + 90, 160)),
        kind="as asked",
        shot="bust",
        orientation="upright",
        measures=(),
        cost=0.0,
        verdict=Verdict.HOLDS,
        reasons=("It holds.",),
        delivered=Size(1080, 1920),
        enlargement=1.0,
        effective_ppi=None,
    )


def a_master(version: str) -> PlannedMaster:
    return PlannedMaster(
        file=f"{version}.jpg",
        path=f"../{version}.jpg",
        sha256="0" * 64,
        width=300,
        height=200,
        version=version,
        finding=Finding(size=Size(300, 200)),
        answers=(Answer(destination="story", proposals=(a_proposal(0), a_proposal(7))),),
        choices={"story": Choice(index=0, at=NOW)},
    )


def a_plan(*versions: str) -> Plan:
    shape = ShapeRange(Fraction(9, 16), Fraction(9, 16))
    return Plan(
        program_version="0",
        made_at=NOW,
        destinations=(Destination(name="story", title="Story", shape=shape),),
        masters=tuple(a_master(one) for one in versions),
    )


def other_choice(plan: Plan, version: str) -> Plan:
    master = plan.master(version)
    assert master is not None
    return plan.with_master(master.with_choice("story", Choice(index=1, at=NOW)))


def files(job: Path) -> dict[str, bytes]:
    return {str(one.relative_to(job)): one.read_bytes() for one in job.rglob("*") if one.is_file()}


def test_masters_come_back_in_their_order_and_nothing_is_opened_before_it_is_asked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = a_plan("wool", "cap", "Wool-2")
    JobFolder(tmp_path).write(plan)
    opened: list[str] = []
    true = codec.master_from

    def watched(text: str | bytes) -> codec.MasterFile:
        filed = true(text)
        opened.append(filed.master.version)
        return filed

    monkeypatch.setattr(codec, "master_from", watched)
    read = JobFolder(tmp_path).must_read()
    assert read.shelf.versions == ("wool", "cap", "Wool-2")
    assert opened == []
    assert read.master("cap") == plan.masters[1]
    assert opened == ["cap"]
    assert read == plan


def test_one_changed_crop_rewrites_one_file_and_adds_one_line(tmp_path: Path) -> None:
    folder = JobFolder(tmp_path)
    plan = folder.write(a_plan(*(f"v{number}" for number in range(20))))
    before = files(tmp_path)

    folder.write(other_choice(plan, "v7"))

    after = files(tmp_path)
    changed = {name for name in after if after[name] != before.get(name)}
    assert changed == {
        "planned/cards.jsonl",
        str(folder.shelf.file_of("v7").relative_to(tmp_path)),
    }
    assert after["planned/cards.jsonl"].startswith(before["planned/cards.jsonl"])
    assert after["planned/cards.jsonl"].count(b"\n") == 21


def test_a_step_back_brings_the_old_file_back(tmp_path: Path) -> None:
    folder = JobFolder(tmp_path)
    before = folder.write(a_plan("a", "b"))
    texts = files(tmp_path)
    folder.write(other_choice(before, "a"))
    folder.write(before)
    path = str(folder.shelf.file_of("a").relative_to(tmp_path))
    assert files(tmp_path)[path] == texts[path]
    assert JobFolder(tmp_path).must_read() == a_plan("a", "b")


def test_a_plan_of_the_old_format_is_read_converted_and_kept_aside(tmp_path: Path) -> None:
    plan = a_plan("a", "b")
    old = codec.to_text(plan).replace('"format": 2', '"format": 1', 1)
    (tmp_path / "plan.json").write_text(old, encoding="utf-8")
    folder = JobFolder(tmp_path)
    read = folder.must_read()
    assert read == plan
    with folder.held():
        folder.write(other_choice(read, "b"))

    assert (tmp_path / "plan-format-1.json").read_text(encoding="utf-8") == old
    again = JobFolder(tmp_path).must_read()
    assert again == other_choice(plan, "b")
    assert "masters" not in json.loads((tmp_path / "plan.json").read_text(encoding="utf-8"))


class Stopped(BaseException):
    """The machine goes off."""


def stop_at(monkeypatch: pytest.MonkeyPatch, step: int) -> Callable[[], int]:
    """Let the machine go off before write number ``step``; gives how many writes there were."""
    done = 0

    def counted(true: Callable[[Path, str], None]) -> Callable[[Path, str], None]:
        def writes(path: Path, text: str) -> None:
            nonlocal done
            if done == step:
                raise Stopped
            done += 1
            true(path, text)

        return writes

    for name in ("appended", "write_text"):
        monkeypatch.setattr(shelf, name, counted(getattr(putting, name)))
    monkeypatch.setattr("cropper.job.store.write_text", counted(putting.write_text))
    return lambda: done


def test_whenever_the_machine_goes_off_old_or_new_is_there_and_the_cards_tell_the_files(
    tmp_path: Path,
) -> None:
    old = a_plan("a", "b", "c")
    new = replace(other_choice(other_choice(old, "a"), "c"), program_version="1")
    new = new.with_master(a_master("d"))
    for step in range(20):
        job = tmp_path / str(step)
        job.mkdir()
        JobFolder(job).write(old)
        with pytest.MonkeyPatch.context() as patch:
            count = stop_at(patch, step)
            try:
                JobFolder(job).write(new)
            except Stopped:
                pass
            else:
                assert count() == step == 7, "three masters, two writes each, and the head"
                break
        folder = JobFolder(job)
        with folder.held():
            read = folder.must_read()
            for entry in read.shelf.entries:
                assert entry.card is not None
                assert shelf.file_digest(folder.shelf.text(entry.card)) == entry.card.text
                assert entry.master in (old.master(entry.version), new.master(entry.version))
            folder.write(new)
        assert JobFolder(job).must_read() == new
        assert not [one for one in files(job) if one.endswith(".part")]
    else:
        pytest.fail("the writes never came to an end")


@pytest.mark.parametrize("torn", [b'{"version":"b","fi', b"\x00\x00\x00", b'{"gone":"a"}'])
def test_a_line_that_was_not_finished_counts_for_nothing_and_is_cut_off(
    tmp_path: Path, torn: bytes
) -> None:
    folder = JobFolder(tmp_path)
    folder.write(a_plan("a", "b"))
    whole = folder.shelf.journal.read_bytes()
    folder.shelf.journal.write_bytes(whole + torn)
    assert JobFolder(tmp_path).must_read() == a_plan("a", "b")
    with folder.held():
        pass
    assert folder.shelf.journal.read_bytes() == whole


def test_cards_taken_away_are_made_again_from_the_files(tmp_path: Path) -> None:
    folder = JobFolder(tmp_path)
    folder.write(a_plan("b", "a"))
    folder.shelf.journal.unlink()
    assert JobFolder(tmp_path).must_read() == a_plan("b", "a")
    with folder.held():
        assert folder.shelf.journal.exists()
    assert JobFolder(tmp_path).must_read() == a_plan("b", "a")


def test_cards_of_another_program_are_made_again_from_the_files(tmp_path: Path) -> None:
    folder = JobFolder(tmp_path)
    folder.write(a_plan("b", "a"))
    whole = folder.shelf.journal.read_text()
    folder.shelf.journal.write_text(whole.replace('"kind":1', '"kind":0'))
    assert JobFolder(tmp_path).must_read() == a_plan("b", "a")
    again = JobFolder(tmp_path)
    with again.held():
        assert sorted(folder.shelf.journal.read_text().splitlines()) == sorted(whole.splitlines())
        again.write(other_choice(again.must_read(), "a"))
    assert JobFolder(tmp_path).must_read() == other_choice(a_plan("b", "a"), "a")


@pytest.mark.parametrize(
    "line", ["[]", '{"kind": 2, "version": "a"}', "no json", '{"gone": ' + "[" * 9000]
)
def test_a_damaged_journal_names_the_line_and_the_way_out(tmp_path: Path, line: str) -> None:
    folder = JobFolder(tmp_path)
    folder.write(a_plan("a"))
    folder.shelf.journal.write_text(line + "\n" + folder.shelf.journal.read_text())
    with pytest.raises(JobError, match=r"line 1: this is no card.*Take cards.jsonl away"):
        JobFolder(tmp_path).must_read()


def test_a_damaged_master_stops_only_whoever_looks_at_it(tmp_path: Path) -> None:
    folder = JobFolder(tmp_path)
    folder.write(a_plan("a", "b"))
    folder.shelf.file_of("a").write_text("{}")
    plan = JobFolder(tmp_path).must_read()
    assert plan.master("b") == a_master("b")
    with pytest.raises(JobError, match=r"plan that master again"):
        plan.master("a")


@pytest.mark.parametrize("name", ["../../out", "/etc/x", "a/b", "con", "ä" * 80, "", ".", "a\x00b"])
def test_no_name_leads_out_of_the_folder(tmp_path: Path, name: str) -> None:
    path = JobFolder(tmp_path).shelf.file_of(name)
    assert path.resolve().is_relative_to(tmp_path.resolve() / "planned")
    assert len(path.name.encode()) < 200


def test_nothing_is_written_through_a_link(tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    job = tmp_path / "job"
    job.mkdir()
    (job / "planned").symlink_to(elsewhere)
    with pytest.raises(JobError, match="link"):
        JobFolder(job).write(a_plan("a"))
    assert list(elsewhere.iterdir()) == []


def test_a_full_disk_leaves_the_journal_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = JobFolder(tmp_path)
    plan = folder.write(a_plan("a"))
    before = files(tmp_path)

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr("os.fsync", full)
        with pytest.raises(JobError, match="no space left"):
            folder.write(other_choice(plan, "a"))
    assert files(tmp_path) == before


def test_a_long_journal_is_written_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shelf, "SPARE_LINES", 5)
    folder = JobFolder(tmp_path)
    plan = folder.write(a_plan("a", "b"))
    for number in range(8):
        plan = folder.write(
            other_choice(plan, "a") if number % 2 == 0 else plan.with_master(a_master("a"))
        )
    with folder.held():
        pass
    assert folder.shelf.journal.read_bytes().count(b"\n") == 2
    assert JobFolder(tmp_path).must_read() == a_plan("a", "b")


def test_what_stands_on_the_shelf_waits_no_longer(tmp_path: Path) -> None:
    waiting = tuple(
        WaitingMaster(file=f"{one}.jpg", path=f"../{one}.jpg", version=one, place=at)
        for at, one in enumerate("ab")
    )
    JobFolder(tmp_path).write(replace(a_plan("a"), waiting=waiting))
    assert [one.version for one in JobFolder(tmp_path).must_read().waiting] == ["b"]


def test_a_revision_names_the_content_and_not_the_way_there(tmp_path: Path) -> None:
    folder = JobFolder(tmp_path)
    first = folder.write(a_plan("a"))
    before = folder.revision(first)
    second = folder.write(other_choice(first, "a"))
    assert folder.revision(second) != before
    third = folder.write(second.with_master(a_master("a")))
    assert folder.revision(third) == before == folder.revision(folder.must_read())


def test_a_lean_shelf_never_loses_a_line_of_the_journal(tmp_path: Path) -> None:
    JobFolder(tmp_path).write(a_plan("a", "b", "c"))
    full = Shelf(tmp_path)
    assert all(card.lines for card in full.cards().values())
    before = full.journal.read_text(encoding="utf-8")
    lean = Shelf(tmp_path, lean=True)
    assert [card.lines for card in lean.cards().values()] == [(), (), ()]
    lean.mend()
    lean.write_anew(lean.cards().values())
    assert full.journal.read_text(encoding="utf-8") == before
