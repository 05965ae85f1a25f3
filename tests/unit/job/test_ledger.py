"""The ledger's journal: nothing noted is lost, a torn line is no matter, old ledgers are read."""

from __future__ import annotations

import errno
import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cropper.errors import JobError
from cropper.job import ledger as ledger_module
from cropper.job.ledger import JOURNAL, Entry, OpenLedger, read_ledger


def entry(number: int = 1, *, written: bool = True) -> Entry:
    return Entry(
        version=f"v{number}",
        destination="story",
        basis="b",
        sha256=f"{number:064x}",
        written=written,
        notes=("a provenance manifest in the master is not carried on",),
    )


def test_what_was_noted_is_there_without_closing(tmp_path: Path) -> None:
    """A run that is killed never closes its ledger."""
    OpenLedger(tmp_path, "deliverables").note({"a.jpg": entry(1), "b.jpg": entry(2)})
    assert dict(read_ledger(tmp_path).files("deliverables")) == {
        "a.jpg": entry(1),
        "b.jpg": entry(2),
    }


def test_a_line_torn_by_a_power_cut_is_dropped_and_writing_goes_on(tmp_path: Path) -> None:
    first = OpenLedger(tmp_path, "deliverables")
    first.note({"a.jpg": entry(1)})
    with (tmp_path / JOURNAL).open("ab") as file:
        file.write(b'{"folder": "deliverables", "file": "torn')
    first.note({"b.jpg": entry(2)})
    assert list(read_ledger(tmp_path).files("deliverables")) == ["a.jpg", "b.jpg"]


@given(st.integers(0, 400))
def test_cut_anywhere_the_journal_gives_a_beginning_of_what_was_noted(cut: int) -> None:
    import tempfile  # noqa: PLC0415 - one folder for each example

    with tempfile.TemporaryDirectory() as folder:
        job = Path(folder)
        opened = OpenLedger(job, "f")
        for number in range(3):
            opened.note({f"{number}.jpg": entry(number)})
        journal = job / JOURNAL
        journal.write_bytes(journal.read_bytes()[:cut])
        assert (
            list(read_ledger(job).files("f"))
            == [f"{n}.jpg" for n in range(3)][: journal.read_bytes().count(b"\n")]
        )


def test_a_run_killed_between_state_and_journal_loses_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened = OpenLedger(tmp_path, "f")
    opened.note({"a.jpg": entry(1), "b.jpg": entry(2)})
    opened.note({"b.jpg": None})
    with monkeypatch.context() as patched:
        patched.setattr(Path, "unlink", lambda *_, **__: (_ for _ in ()).throw(KeyboardInterrupt))
        with pytest.raises(KeyboardInterrupt):
            opened.close()
    assert (tmp_path / JOURNAL).exists()
    assert dict(read_ledger(tmp_path).files("f")) == {"a.jpg": entry(1)}


def test_a_ledger_of_before_the_journal_is_read(tmp_path: Path) -> None:
    old = {
        "version": "a",
        "destination": "b",
        "basis": "c",
        "sha256": "d",
        "bytes": 5,
        "width": 1,
        "height": 1,
        "ppi": None,
        "written": True,
    }
    state = {"format": 1, "folders": {"deliverables": {"x.jpg": old}}}
    (tmp_path / "exported.json").write_text(json.dumps(state))
    assert OpenLedger(tmp_path, "deliverables").name_of("a", "b") == "x.jpg"


def test_a_line_that_is_damaged_in_the_middle_is_said_and_not_guessed(tmp_path: Path) -> None:
    (tmp_path / JOURNAL).write_text('{"folder": 7}\n{"folder": "f", "file": "a", "entry": null}\n')
    with pytest.raises(JobError, match="damaged"):
        read_ledger(tmp_path)


def test_a_full_disk_leaves_the_journal_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened = OpenLedger(tmp_path, "f")
    opened.note({"a.jpg": entry(1)})
    before = (tmp_path / JOURNAL).read_bytes()

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr("os.fsync", full)
        with pytest.raises(JobError, match="no space"):
            opened.note({"b.jpg": entry(2)})
    assert (tmp_path / JOURNAL).read_bytes() == before
    assert list(opened.names()) == ["a.jpg"]


def test_noting_does_not_grow_with_what_was_noted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Counted in bytes, which no busy machine changes: each note is one line."""
    written: list[int] = []
    monkeypatch.setattr(ledger_module, "appended", lambda _, line: written.append(len(line)))
    monkeypatch.setattr(ledger_module, "write_text", lambda *_: written.append(10**9))
    opened = OpenLedger(tmp_path, "f")
    for number in range(2_000):
        opened.note({f"{number}.jpg": entry(number)})
    assert max(written) < 600


def test_other_folders_are_kept_and_the_newest_entry_of_a_file_counts(tmp_path: Path) -> None:
    first = OpenLedger(tmp_path, "one")
    first.note({"a.jpg": entry(1), "b.jpg": entry(2)})
    first.close()
    second = OpenLedger(tmp_path, "../two.jpg/x")
    second.note({"a.jpg": entry(3)})
    second.note({"a.jpg": entry(4)})
    second.close()
    assert not (tmp_path / JOURNAL).exists()
    assert read_ledger(tmp_path).folders == {
        "one": {"a.jpg": entry(1), "b.jpg": entry(2)},
        "../two.jpg/x": {"a.jpg": entry(4)},
    }


@pytest.mark.parametrize(
    "state",
    [
        "",
        "[]",
        "7",
        '{"folders": 7}',
        '{"folders": {"f": 7}}',
        '{"folders": {"f": {"a.jpg": 7}}}',
        '{"folders": {"f": {"a.jpg": {}}}}',
        '{"format": "x"}',
        '{"folders": {"f": {',
    ],
)
def test_a_state_that_makes_no_sense_is_said_and_not_guessed(tmp_path: Path, state: str) -> None:
    (tmp_path / "exported.json").write_text(state)
    with pytest.raises(JobError, match="damaged"):
        OpenLedger(tmp_path, "f")


def test_a_state_of_a_newer_program_is_refused(tmp_path: Path) -> None:
    (tmp_path / "exported.json").write_text('{"format": 99, "folders": {}}')
    with pytest.raises(JobError, match="newer program"):
        OpenLedger(tmp_path, "f")
