"""What is declared or agreed later binds the runs that are there already, and is told at once."""

from __future__ import annotations

import io
import json
import os
from dataclasses import replace
from pathlib import Path

import pytest

from cropper.errors import RivalsError
from cropper.job.recording import unsettled_of
from cropper.publication.bars import Rule
from cropper.publication.facts import Asked
from cropper.publication.licences import Elsewhere, Licence, LicenceKind
from cropper.publication.outlets import Outlet, OutletKind
from cropper.publication.releases import Release, ReleaseStatus
from cropper.publication.runs import SetRules
from cropper.publication.spans import Span
from cropper.record.barring import Barred
from cropper.record.exchange import take_runs
from cropper.record.record import Record
from tests.integration.record.test_record_verbs import job, taken, typed  # noqa: F401 - fixtures
from tests.integration.record.test_recording import FEED, HOOD, ROLL, STAMP, WALL, day, run

SHOP = Outlet(
    name="mill-shop",
    kind=OutletKind.PLACED,
    audience=frozenset({"buyers"}),
    commercial=True,
)


@pytest.fixture
def filled(record: Record) -> Record:
    record.keep_outlets([WALL, FEED, SHOP], STAMP)
    record.take_in([ROLL, HOOD], STAMP)
    return record


def test_runs_of_a_table_without_sets_are_rivals_as_the_record_knows(filled: Record) -> None:
    table = "version,outlet,from,until\nroll,mill-wall,2026-03-01,2026-04-01\n"
    assert take_runs(filled, io.StringIO(table), STAMP).kept == 1
    assert filled.facts().runs[0].set == "shawl"
    assert [one.rule for one in filled.may(run(HOOD, 5, 10))] == [Rule.RIVALS]
    rival = "version,outlet,from,until\nhood,mill-wall,2026-03-10,2026-03-12\n"
    assert take_runs(filled, io.StringIO(rival), STAMP).clashing == 1


def test_a_set_that_is_declared_later_binds_the_runs_before_it(record: Record) -> None:
    record.keep_outlets([WALL], STAMP)
    alone = [replace(one, set=None) for one in (ROLL, HOOD)]
    record.take_in(alone, STAMP)
    for piece in alone:
        record.record_run(run(piece, 0, 30), STAMP)
    rules = SetRules(name="shawl", versions=("hood", "roll"))
    with pytest.raises(RivalsError, match="Nothing was kept"):
        record.agree(rules, STAMP)
    assert not record.facts().sets
    kept = record.agree(rules, STAMP, anyway="both ran before we saw it")
    assert {one.clash.rule for one in kept.unsettled} == {Rule.RIVALS}
    assert [one.rule for one in record.may(run(alone[0], 5, 9, id="new"))] == [Rule.RIVALS]
    assert len(record.facts(Asked(sets=("shawl",))).runs) == 2


def test_an_exclusive_over_running_versions_says_what_comes_down_by_when(filled: Record) -> None:
    filled.record_run(run(ROLL, 0, 60), STAMP)
    deal = Licence(
        id="deal",
        kind=LicenceKind.EXCLUSIVE,
        span=Span(day(10), day(40)),
        outlet="my-pages",
        set="shawl",
    )
    with pytest.raises(RivalsError) as caught:
        filled.agree(deal, STAMP)
    assert "Run roll-0, 'roll' at 'mill-wall', must be down by 11 March 2026" in str(caught.value)
    assert "cropper record end roll-0 --on 2026-03-11T09:00" in str(caught.value)
    assert not filled.licences()
    kept = filled.agree(deal, STAMP, anyway="the mill knows")
    assert [one.run.id for one in kept.unsettled] == ["roll-0"]
    assert [one.run.id for one in filled.unsettled(Asked(), day(1))] == ["roll-0"]
    filled.end_run("roll-0", day(10), STAMP)
    assert not filled.unsettled(Asked(), day(1))


def test_a_withdrawn_release_an_embargo_a_bar_and_a_rest_are_told_alike(filled: Record) -> None:
    roll = run(ROLL, 0, 60, outlet="mill-shop")
    signed = Release(id="r", person="Ilse Marrow", status=ReleaseStatus.UNLIMITED)
    filled.keep_release(signed, STAMP)
    filled.record_run(roll, STAMP)
    filled.record_run(run(HOOD, 70, 80, outlet="mill-shop"), STAMP)
    embargo = Licence(id="e", kind=LicenceKind.EMBARGO, span=Span(day(-9), day(3)), version="roll")
    for agreement in (
        replace(signed, status=ReleaseStatus.NONE),
        embargo,
        Barred(version="roll", why="refused"),
        SetRules(name="shawl", versions=("roll", "hood"), rest_days=14),
    ):
        with pytest.raises(RivalsError, match=r"roll-0|hood-70"):
            filled.agree(agreement, STAMP)
    facts = filled.facts()
    assert (facts.licences, dict(facts.barred), dict(facts.sets)) == ((), {}, {})


def test_a_clash_that_was_recorded_on_purpose_calls_for_nothing(filled: Record) -> None:
    filled.record_run(run(ROLL, 0, 60), STAMP)
    filled.record_run(run(HOOD, 10, 20), STAMP, despite={Rule.RIVALS: "the mill asked for both"})
    assert not filled.unsettled(Asked(), day(1))


def test_a_post_that_is_still_up_is_told_and_clashes_where_it_must_come_down(
    filled: Record,
) -> None:
    filled.record_run(run(ROLL, -40, None, outlet="my-pages"), STAMP)
    deal = Licence(
        id="deal",
        kind=LicenceKind.EXCLUSIVE,
        span=Span(day(0), day(40)),
        outlet="mill-wall",
        version="roll",
    )
    with pytest.raises(RivalsError, match="posts elsewhere come down"):
        filled.agree(replace(deal, elsewhere=Elsewhere.TAKEN_DOWN), STAMP)
    (told,) = filled.agree(deal, STAMP).still_up
    assert (
        told == "'roll' is still up in my-pages since 20 January 2026, 09:00 (UTC) (run roll--40)"
    )
    (beside,) = filled.beside(run(ROLL, -45, None, id="new", outlet="my-pages"))
    assert beside.startswith("It is still up there while 'mill-wall' has it alone")


def test_a_job_whose_sets_bind_earlier_runs_lists_what_clashes(job: Path) -> None:  # noqa: F811
    manifest = job / "deliverables" / "manifest.json"
    told = json.loads(manifest.read_text())
    alone = {**told, "delivered": [{**one, "set": None} for one in told["delivered"]]}
    manifest.write_text(json.dumps(alone))
    typed("record", "job", job)
    for version in ("hood", "roll"):
        file = job / "deliverables" / f"{version}_page-header.jpg"
        assert (
            typed("record", "run", file, "--at", "my-pages", "--from", "2026-03-01").exit_code == 0
        )
    manifest.write_text(json.dumps(told))
    done = typed("record", "job", job)
    assert done.exit_code == 0, "in a stream in which both faded long ago, nothing calls for help"
    file = job / "deliverables" / "hood_page-header.jpg"
    typed("record", "run", file, "--at", "mill-shop", "--from", "2199-01-01", "--planned")
    refused = typed("record", "bar", "hood", "--why", "withdrawn")
    assert refused.exit_code == 4
    assert "may not start on" in refused.output
    assert "To settle" not in typed("running").output
    typed("record", "bar", "hood", "--why", "withdrawn", "--anyway", "told the shop")
    told_now = typed("running")
    assert "To settle" in told_now.output
    assert json.loads(typed("running", "--json").stdout)["unsettled"][0]["rule"] == "barred version"
    found = unsettled_of(job, address=os.environ["CROPPER_RECORD"], now=day(400))
    assert {(one.run.version, one.clash.rule) for one in found} == {("hood", Rule.BARRED)}
    assert {one.run.outlet for one in found} == {"my-pages", "mill-shop"}, "up still, and to come"
    assert unsettled_of(job, address=str(job / "none.sqlite"), now=day(0)) == ()


def test_a_script_is_told_which_runs_a_jobs_sets_make_clash(job: Path) -> None:  # noqa: F811
    manifest = job / "deliverables" / "manifest.json"
    told = json.loads(manifest.read_text())
    alone = {**told, "delivered": [{**one, "set": None} for one in told["delivered"]]}
    manifest.write_text(json.dumps(alone))
    typed("record", "job", job)
    for version, outlet in (("hood", "mill-shop"), ("roll", "my-pages")):
        file = job / "deliverables" / f"{version}_page-header.jpg"
        words = ("--at", outlet, "--from", "2199-01-01", "--planned")
        assert typed("record", "run", file, *words).exit_code == 0
    manifest.write_text(json.dumps(told))
    done = typed("record", "job", job, "--json")
    assert done.exit_code == 4
    clashing = json.loads(done.stdout)["unsettled"]
    assert clashing
    assert all(one["by"].startswith("2199") and one["way_out"] for one in clashing)


def test_numbers_are_found_again_and_agreements_end_and_are_called_off(taken: Path) -> None:  # noqa: F811
    file = taken / "hood_page-header.jpg"
    number = typed(
        "record", "run", file, "--at", "my-pages", "--from", "2026-03-01"
    ).stdout.split()[1]
    number = number.rstrip(":")
    assert number in typed("running", "--on", "2026-03-02").stdout
    assert number in typed("record", "runs", "--version", "hood").stdout
    words = ("exclusive", "--outlet", "mill-shop", "--set", "shawl", "--from", "2027-01-01")
    made = typed("record", "licence", *words, "--until", "2027-03-01").stdout.split()[1].rstrip(":")
    assert made in typed("record", "agreements").stdout
    assert typed("record", "end", made, "--on", "2027-02-01").exit_code == 0
    assert "1 February 2027" in typed("record", "agreements").stdout
    assert typed("record", "end", made, "--on", "2027-02-02").exit_code == 2
    assert "called off" in typed("record", "withdraw", made).output
    assert made not in typed("record", "agreements").stdout
    assert made in typed("record", "agreements", "--all").stdout
    slip = typed("record", "licence", *words, "--until", "2027-03-01", "--id", "nobody")
    assert (slip.exit_code, made in slip.output) == (1, True)
    term = typed("record", "licence", "term", "--outlet", "mill-shop", "--set", "shawl",
                 "--from", "2026-01-01", "--against", "territory=Nordland")  # fmt: skip
    assert term.exit_code == 2
