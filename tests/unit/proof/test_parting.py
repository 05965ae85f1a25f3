"""A large job's sheets come in parts, none of them larger than can be looked through."""

from __future__ import annotations

from pathlib import Path

import pytest

from cropper.proof.parting import ON_A_SHEET, left_over, parts


def names(count: int) -> tuple[str, ...]:
    return tuple(f"wool-{number}" for number in range(count))


@pytest.mark.parametrize("count", [0, 1, ON_A_SHEET, ON_A_SHEET + 1, 10 * ON_A_SHEET + 3])
def test_every_master_stands_on_one_part_in_its_order(count: int) -> None:
    told = list(parts(names(count)))

    assert [one for part in told for one in part.versions] == list(names(count))
    assert all(len(part.versions) <= ON_A_SHEET for part in told)
    assert [part.number for part in told] == list(range(1, told[0].of + 1))


def test_a_small_job_has_one_sheet_of_the_usual_name() -> None:
    (part,) = parts(names(3))

    assert (part.file("proof.html"), part.title("winter")) == ("proof.html", "winter")


def test_parts_are_named_so_that_they_stand_in_their_order() -> None:
    told = list(parts(names(11 * ON_A_SHEET)))

    assert [told[0].file("proof.pdf"), told[10].file("proof.pdf")] == [
        "proof-01.pdf",
        "proof-11.pdf",
    ]
    assert told[1].title("winter") == "winter, part 2 of 11"


def test_sheets_of_an_earlier_run_are_named_and_others_files_are_not(tmp_path: Path) -> None:
    for name in ("proof.html", "proof-1.html", "proof-2.html", "proof-3.pdf", "proof-x.html"):
        (tmp_path / name).write_text("")

    assert left_over(tmp_path, ["proof-1.html"]) == ["proof-2.html", "proof.html"]
