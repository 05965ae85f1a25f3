"""Every bad thing a person can hand in: a sentence, its exit code, and nothing lost."""

from __future__ import annotations

import json
import struct
import zlib
from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image, ImageCms

from cropper.job.store import JobFolder
from tests.integration.conftest import Draw, Run

pytestmark = pytest.mark.usefixtures("looker")


def _text(path: Path) -> None:
    path.write_text("Dear studio, the picture is attached.")


def _empty(path: Path) -> None:
    path.touch()


def _picture(path: Path) -> bytes:
    Image.effect_noise((800, 1000), 60).convert("RGB").save(path, "JPEG", quality=90)
    return path.read_bytes()


def _cut(path: Path) -> None:
    data = _picture(path)
    path.write_bytes(data[: len(data) // 2])


def _garbage(path: Path) -> None:
    data = bytearray(_picture(path))
    middle = len(data) // 2
    data[middle : middle + 400] = b"\xff\x00\x7f\xff\xd9\x13\x80\x01" * 50
    path.write_bytes(data)


def _bomb(path: Path) -> None:
    """A PNG whose header says 30000 x 30000, with hardly a byte behind it."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return (
            struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
        )

    header = struct.pack(">IIBBBBB", 30000, 30000, 8, 2, 0, 0, 0)
    path.write_bytes(
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(b"\0" * 1000))
        + chunk(b"IEND", b"")
    )


def _missing(path: Path) -> None:
    assert not path.exists()


def _folder(path: Path) -> None:
    path.mkdir()


BAD: dict[str, Callable[[Path], None]] = {
    "not a picture": _text,
    "empty": _empty,
    "cut at half": _cut,
    "garbage inside": _garbage,
    "a bomb": _bomb,
    "missing": _missing,
    "a folder": _folder,
}


@pytest.mark.parametrize("kind", BAD)
def test_a_bad_master_is_a_sentence_and_exit_code_1(run: Run, tmp_path: Path, kind: str) -> None:
    bad = tmp_path / "bad.jpg"
    BAD[kind](bad)

    result = run("plan", bad, "--for", "square-post", "--job", tmp_path / "job")

    assert result.exit_code == 1
    assert "Failed: " in result.stderr
    assert "bad.jpg" in result.stderr
    assert "Traceback" not in result.stderr


@pytest.mark.parametrize("kind", BAD)
def test_in_a_batch_the_others_go_on_and_the_failure_is_named(
    run: Run, draw: Draw, tmp_path: Path, kind: str
) -> None:
    bad, good, job = tmp_path / "bad.jpg", draw("good.jpg"), tmp_path / "job"
    BAD[kind](bad)

    result = run("plan", bad, good, "--for", "square-post", "--job", job)
    exported = run("export", "--job", job)

    assert result.exit_code == 6
    assert exported.exit_code == 0
    plan = JobFolder(job).must_read()
    assert [one.version for one in plan.masters] == ["good"]
    assert [Path(one.file).name for one in plan.failed] == ["bad.jpg"]
    told = json.loads((job / "deliverables" / "manifest.json").read_text())
    assert [one["master"] for one in told["not_delivered"]] == ["bad.jpg"]


def test_a_failure_mended_is_forgotten(run: Run, draw: Draw, tmp_path: Path) -> None:
    bad, job = tmp_path / "later.jpg", tmp_path / "job"
    _empty(bad)
    run("plan", bad, draw("good.jpg"), "--for", "square-post", "--job", job)
    draw("later.jpg", 5)
    assert run("plan", bad, "--for", "square-post", "--job", job).exit_code == 0
    assert JobFolder(job).must_read().failed == ()


def test_a_planned_master_that_breaks_later_keeps_its_hand_work(
    run: Run, draw: Draw, tmp_path: Path
) -> None:
    job, picture = tmp_path / "job", draw("ilse.jpg")
    words = ("--crop", "square-post=0,0,1500,1500")
    run("plan", picture, "--for", "square-post", "--job", job, *words)
    _cut(picture)

    assert run("plan", "--job", job).exit_code == 1

    choice = JobFolder(job).must_read().masters[0].choices["square-post"]
    assert choice.hand is not None
    assert choice.hand.crop.box.x1 == 1500


@pytest.mark.parametrize("tag", range(1, 9))
def test_every_orientation_is_planned_upright(run: Run, tmp_path: Path, tag: int) -> None:
    exif = Image.Exif()
    exif[0x0112] = tag
    path, job = tmp_path / "turned.jpg", tmp_path / "job"
    Image.new("RGB", (1200, 1500), "gray").save(path, exif=exif)

    assert run("plan", path, "--for", "square-post", "--job", job).exit_code == 0

    master = JobFolder(job).must_read().masters[0]
    assert (master.width, master.height) == ((1500, 1200) if tag >= 5 else (1200, 1500))


@pytest.mark.parametrize("mode", ["L", "LA", "RGBA", "CMYK", "1", "P"])
def test_odd_channel_counts_are_planned_and_exported(run: Run, tmp_path: Path, mode: str) -> None:
    path, job = tmp_path / "odd.tif", tmp_path / "job"
    Image.new("RGB", (1200, 1500), (120, 110, 100)).convert(mode).save(path)

    planned = run("plan", path, "--for", "square-post", "--job", job)
    assert planned.exit_code in {0, 1}, planned.stderr
    if planned.exit_code == 0:
        assert run("export", "--job", job).exit_code == 0
    else:
        assert "Export it as" in planned.stderr


@pytest.mark.parametrize("profile", [b"", b"this is no profile at all" * 20])
def test_an_unreadable_profile_is_said_and_does_no_harm(
    run: Run, tmp_path: Path, profile: bytes
) -> None:
    path, job = tmp_path / "odd.jpg", tmp_path / "job"
    Image.new("RGB", (1200, 1500), (120, 110, 100)).save(path, icc_profile=profile)
    assert run("plan", path, "--for", "square-post", "--job", job).exit_code == 0
    assert run("export", "--job", job).exit_code == 0


def test_a_sound_profile_is_taken_in(run: Run, tmp_path: Path) -> None:
    path, job = tmp_path / "sound.jpg", tmp_path / "job"
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    Image.new("RGB", (1200, 1500), (120, 110, 100)).save(path, icc_profile=profile)
    assert run("plan", path, "--for", "square-post", "--job", job).exit_code == 0


def test_a_preset_that_contradicts_itself_is_at_fault(run: Run, draw: Draw, tmp_path: Path) -> None:
    own = tmp_path / "own"
    own.mkdir()
    (own / "mine.toml").write_text('[panel]\ntitle = "Panel"\nsize_px = [0, -5]\n')
    words = ("--for", "panel", "--job", tmp_path / "job", "--presets", own)
    result = run("plan", draw("a.jpg"), *words)
    assert result.exit_code == 3
    assert "mine.toml" in result.stderr


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('{"format": 99}', "newer program"),
        ("{", "not JSON"),
        ("[]", "names no format"),
        ('{"format": 1}', "is not as a plan needs it"),
        ("\x00\x01", "not JSON"),
    ],
)
def test_a_plan_that_cannot_be_trusted_is_left_untouched(
    run: Run, draw: Draw, tmp_path: Path, text: str, said: str
) -> None:
    job = tmp_path / "job"
    job.mkdir()
    (job / "plan.json").write_text(text)

    results = [
        run("plan", draw("a.jpg"), "--for", "square-post", "--job", job),
        run("export", "--job", job),
    ]

    for result in results:
        assert result.exit_code == 1
        assert said in result.stderr
    assert (job / "plan.json").read_text() == text


def test_a_job_folder_that_is_a_file_is_misuse(run: Run, draw: Draw, tmp_path: Path) -> None:
    (tmp_path / "job").write_text("in the way")
    result = run("plan", draw("a.jpg"), "--for", "square-post", "--job", tmp_path / "job")
    assert result.exit_code == 2
