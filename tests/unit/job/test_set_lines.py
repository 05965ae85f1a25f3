"""Sets of rivals stand one to a line: changing one adds a line, and reading one reads only it."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from cropper.errors import JobError
from cropper.job import codec, set_lines
from cropper.job.plan import FORMAT, Cell, Plan, PlannedSet
from cropper.job.rival_sets import Sets
from cropper.job.set_lines import SetLines
from cropper.job.store import JobFolder
from cropper.proposal.proposal import Verdict

PLAN = Plan(program_version="1", made_at=datetime(2026, 3, 4, tzinfo=UTC))


def a_set(name: str, *, given: str = "") -> PlannedSet:
    first, second = f"{name}-neck", f"{name}-hood"
    return PlannedSet(
        name=name,
        versions=(first, second),
        matrix=(Cell(version=first, destination="story", verdict=Verdict.HOLDS, lost=0.25),),
        best={"story": given or first, "banner": None},
        sentences=("story: the hood's knit shows.",),
        assigned=True,
        basis="abc",
    )


WOOL, FELT, SILK = a_set("wool"), a_set("felt"), a_set("silk, or “satin”")


def lines_of(job: Path) -> list[str]:
    return (job / "planned" / "sets.jsonl").read_text("utf-8").splitlines()


def planned(*sets: PlannedSet) -> Plan:
    return replace(PLAN, sets=sets)


def test_sets_come_back_as_they_were_in_their_order(tmp_path: Path) -> None:
    JobFolder(tmp_path).write(planned(WOOL, SILK, FELT))

    assert tuple(JobFolder(tmp_path).must_read().sets) == (WOOL, SILK, FELT)


def test_changing_one_set_adds_one_line(tmp_path: Path) -> None:
    folder = JobFolder(tmp_path)
    plan = folder.write(planned(WOOL, FELT, SILK))
    before = lines_of(tmp_path)
    other = a_set("felt", given="felt-hood")

    folder.write(replace(plan, sets=plan.rivals.put(other)))

    assert lines_of(tmp_path)[:-1] == before
    assert tuple(JobFolder(tmp_path).must_read().sets) == (WOOL, other, SILK)


def test_writing_the_same_again_touches_nothing(tmp_path: Path) -> None:
    JobFolder(tmp_path).write(planned(WOOL, FELT))
    before = lines_of(tmp_path)
    fresh = JobFolder(tmp_path)

    fresh.write(fresh.must_read())

    assert lines_of(tmp_path) == before


def test_a_set_that_is_gone_stays_gone(tmp_path: Path) -> None:
    folder = JobFolder(tmp_path)
    folder.write(planned(WOOL, FELT))
    folder.write(planned(FELT))

    assert JobFolder(tmp_path).must_read().rivals.names == ("felt",)
    assert JobFolder(tmp_path).must_read().set_of("wool-neck") is None


def test_another_order_is_kept(tmp_path: Path) -> None:
    folder = JobFolder(tmp_path)
    folder.write(planned(WOOL, FELT))
    folder.write(planned(FELT, WOOL))

    assert tuple(JobFolder(tmp_path).must_read().sets) == (FELT, WOOL)


def test_spare_lines_are_cleared_away_in_the_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(set_lines, "SPARE_LINES", 3)
    lines = SetLines(tmp_path / "planned")
    for turn in range(9):
        lines.write(Sets.of((WOOL, a_set("felt", given=str(turn)))))

    assert len(lines_of(tmp_path)) <= 5
    assert tuple(SetLines(tmp_path / "planned").read())[1].best["story"] == "8"


def test_a_line_that_was_never_finished_counts_for_nothing_and_is_cut_off(tmp_path: Path) -> None:
    folder = JobFolder(tmp_path)
    folder.write(planned(WOOL))
    file = tmp_path / "planned" / "sets.jsonl"
    whole = file.read_bytes()
    file.write_bytes(whole + b'[{"name":"felt","versions":["a"],"ba')

    assert tuple(JobFolder(tmp_path).must_read().sets) == (WOOL,)
    with JobFolder(tmp_path).held():
        assert file.read_bytes() == whole


def test_opening_a_job_reads_no_set_and_a_damaged_one_says_so_when_looked_at(
    tmp_path: Path,
) -> None:
    JobFolder(tmp_path).write(planned(WOOL, FELT))
    file = tmp_path / "planned" / "sets.jsonl"
    file.write_text(file.read_text("utf-8").replace('"lost":0.25', '"lost":"much"', 1), "utf-8")

    plan = JobFolder(tmp_path).must_read()

    assert plan.rivals.homes["wool-hood"] == "wool"
    assert plan.rivals.get("felt") == FELT
    with pytest.raises(JobError, match="the set 'wool' is damaged") as caught:
        plan.rivals.get("wool")
    assert "plan --set" in caught.value.way_out


@pytest.mark.parametrize(
    "line", ["7", "{}", "[]", "[7,{}]", '[{"name":"a"},{}]', "[" * 5000, '["a","b"]', "\x00"]
)
def test_a_line_that_is_no_set_is_named_by_its_number(tmp_path: Path, line: str) -> None:
    JobFolder(tmp_path).write(planned(WOOL))
    file = tmp_path / "planned" / "sets.jsonl"
    file.write_text(file.read_text("utf-8") + line + "\n", "utf-8")

    with pytest.raises(JobError, match="line 2 is no set"):
        JobFolder(tmp_path).must_read()


def test_a_line_whose_halves_disagree_is_damaged(tmp_path: Path) -> None:
    JobFolder(tmp_path).write(planned(WOOL))
    file = tmp_path / "planned" / "sets.jsonl"
    file.write_text(file.read_text("utf-8").replace('"name":"wool"', '"name":"felt"', 1), "utf-8")

    with pytest.raises(JobError, match="two different sets"):
        JobFolder(tmp_path).must_read().rivals.get("felt")


def format_2(job: Path, *sets: PlannedSet) -> str:
    """The head of a plan as format 2 held it, with its sets inside."""
    told = codec.to_mapping(planned(*sets))
    del told["masters"]
    for one in told["sets"]:
        del one["basis"]
    text = json.dumps(told | {"format": 2})
    (job / "plan.json").write_text(text, "utf-8")
    return text


def test_a_plan_of_format_2_is_read_as_it_is_and_becomes_this_at_the_first_write(
    tmp_path: Path,
) -> None:
    former = format_2(tmp_path, WOOL, FELT)
    unbased = (replace(WOOL, basis=""), replace(FELT, basis=""))
    assert tuple(JobFolder(tmp_path).must_read().sets) == unbased

    folder = JobFolder(tmp_path)
    with folder.held():
        folder.in_today_s_format()

    assert (tmp_path / "plan-format-2.json").read_text("utf-8") == former
    head = json.loads((tmp_path / "plan.json").read_text("utf-8"))
    assert (head["format"], "sets" in head) == (FORMAT, False)
    assert tuple(JobFolder(tmp_path).must_read().sets) == unbased


def test_a_conversion_that_was_cut_short_loses_no_set(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    format_2(tmp_path, WOOL, FELT)
    folder = JobFolder(tmp_path)

    def cut(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(JobFolder, "write_head", cut)
        with pytest.raises(KeyboardInterrupt):
            folder.in_today_s_format()
    assert JobFolder(tmp_path).must_read().rivals.names == ("wool", "felt")
    again = JobFolder(tmp_path)
    again.in_today_s_format()

    assert JobFolder(tmp_path).must_read().rivals.names == ("wool", "felt")
    assert len(lines_of(tmp_path)) == 2


def test_another_program_s_change_of_a_set_is_another_revision(tmp_path: Path) -> None:
    folder = JobFolder(tmp_path)
    plan = folder.write(planned(WOOL, FELT))
    seen, revision = folder.signature(), folder.revision(plan)

    other = JobFolder(tmp_path)
    other.write(replace(other.must_read(), sets=plan.rivals.put(a_set("felt", given="no"))))

    assert folder.signature() != seen
    assert folder.revision(folder.must_read()) != revision
