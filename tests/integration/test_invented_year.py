"""The demo's invented year: it breaks no rule, stays undecided, and says that it is invented."""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pypdf

from cropper.account.invented_year import LIKES, POLL, write_year
from cropper.publication.clashes import clashes
from cropper.publication.facts import Asked
from cropper.publication.reading import Call, read
from cropper.record import open_record

NOW = datetime(2026, 3, 2, 15, tzinfo=UTC)
VERSIONS = ("fernhollow_a_frontal", "fernhollow_i_shawl_rival")


def job(tmp_path: Path) -> Path:
    """A job whose export left only its manifest."""
    rows = [
        {
            "file": f"{version}_{place}.jpg",
            "sha256": hashlib.sha256(f"{version}{place}".encode()).hexdigest(),
            "width": 1080,
            "height": 1080,
            "destination": place,
            "set": "fernhollow-wool",
            "version": version,
            "master_sha256": "0" * 64,
            "crop": [0, 0, 1080, 1080],
            "straighten_deg": 0.0,
        }
        for version in VERSIONS
        for place in ("square-post", "story", "cover-a4")
    ]
    folder = tmp_path / "job" / "deliverables"
    folder.mkdir(parents=True)
    (folder / "manifest.json").write_text(json.dumps({"delivered": rows}), encoding="utf-8")
    return tmp_path / "job"


def test_the_year_is_told_once_marked_invented_and_breaks_no_rule(tmp_path: Path) -> None:
    folder = job(tmp_path)
    pages = write_year(folder, "fernhollow-wool", VERSIONS, now=NOW)
    again = write_year(folder, "fernhollow-wool", VERSIONS, now=NOW + timedelta(hours=2))
    assert pages == again
    for page in pages:
        if page.suffix == ".html":
            assert "Invented data" in page.read_text(encoding="utf-8")
        else:
            text = pypdf.PdfReader(page).pages[0].extract_text()
            assert "Invented data" in text.replace("\u00a0", " ")
            assert str(tmp_path) not in text
    with open_record(str(folder / "record.sqlite")) as record:
        facts = record.facts(Asked(sets=("fernhollow-wool",)))
        assert len(facts.runs) == 7
        assert all(clashes(run, facts) == () for run in facts.runs)
        shop = [one for one in facts.runs if one.outlet == "mill-shop"]
        first, second = sorted(shop, key=lambda one: one.span.start)
        assert first.span.until == second.span.start  # the near-clash
        assert first.version != second.version
        kept = record.responses("fernhollow-wool")
        assert read(kept, POLL, now=NOW).call is Call.TOO_CLOSE
        assert read(kept, LIKES, now=NOW).call is Call.TOO_CLOSE
