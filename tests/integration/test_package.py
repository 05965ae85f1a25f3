"""The wheel carries what the program needs, stays small, and works from outside the checkout."""

from __future__ import annotations

import hashlib
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest
from hatchling.builders.wheel import WheelBuilder

from cropper.subject.weights import WEIGHTS

ROOT = Path(__file__).resolve().parents[2]
LARGEST_BYTES = 10_000_000
"""Without the finding engine's weights."""
LARGEST_WEIGHTS_BYTES = 20_000_000
LEFT_AT_HOME = {"fernhollow_a_16bit_widegamut", "fernhollow_a_master"}
"""Found in the checkout only: large masters for the colour and sharpening tests."""


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    return Path(next(WheelBuilder(str(ROOT)).build(directory=str(folder), versions=["standard"])))


@pytest.fixture(scope="module")
def names(wheel: Path) -> set[str]:
    with zipfile.ZipFile(wheel) as opened:
        return set(opened.namelist())


def test_the_wheel_stays_under_ten_megabytes_and_the_weights_under_twenty(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as opened:
        weights = sum(one.compress_size for one in opened.infolist() if "/weights/" in one.filename)
    assert weights < LARGEST_WEIGHTS_BYTES
    assert wheel.stat().st_size - weights < LARGEST_BYTES


def test_the_weights_ride_with_their_licence_as_they_were_tested(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as opened:
        for one in WEIGHTS.values():
            content = opened.read(f"cropper/weights/{one.file_name}")
            assert hashlib.sha256(content).hexdigest() == one.sha256
        assert b"Apache License" in opened.read("cropper/weights/LICENSE.txt")


def test_every_preset_rides(names: set[str]) -> None:
    presets = {f"cropper/presets/{file.name}" for file in (ROOT / "presets").glob("*.toml")}
    assert presets
    assert presets <= names


def test_every_demo_picture_rides_with_its_truth_but_the_large_masters(names: set[str]) -> None:
    pictures = {
        file
        for pattern in ("*.jpg", "*.tif")
        for file in (ROOT / "demo_images").glob(pattern)
        if file.stem not in LEFT_AT_HOME
    }
    assert len(pictures) >= 9
    for picture in pictures:
        assert f"cropper/demo_images/{picture.name}" in names
        assert f"cropper/demo_images/{picture.stem}.truth.json" in names
    assert "cropper/demo_images/PROVENANCE.md" in names
    assert not [name for name in names for stem in LEFT_AT_HOME if f"/{stem}." in name]


def test_templates_schemas_and_the_typing_mark_ride(names: set[str]) -> None:
    data = {
        str(file.relative_to(ROOT))
        for file in (ROOT / "cropper").rglob("*")
        if file.is_file() and file.suffix in {".html", ".css", ".js", ".json", ".typed", ".j2"}
    }
    assert "cropper/py.typed" in data
    assert data <= names


def test_nothing_else_rides(names: set[str]) -> None:
    assert {name.split("/")[0].split("-")[0] for name in names} == {"cropper"}
    assert not [name for name in names if "__pycache__" in name or name.startswith("tests")]


def test_the_licence_rides(names: set[str]) -> None:
    assert any(name.endswith("licenses/LICENSE") for name in names)


def test_the_unpacked_wheel_works_away_from_the_checkout(wheel: Path, tmp_path: Path) -> None:
    """The package folder is put first on the path: the checkout's own copy must not answer."""
    with zipfile.ZipFile(wheel) as opened:
        opened.extractall(tmp_path / "site")
    asked = (
        "import sys; sys.path.insert(0, sys.argv[1]); import cropper;"
        "from cropper._resources import shipped;"
        "from cropper.destination.presets import load_presets;"
        "print(cropper.__file__); print(len(load_presets().destinations));"
        "print(sum(one.name.endswith('.jpg') for one in shipped('demo_images').iterdir()))"
    )
    told = subprocess.run(
        [sys.executable, "-c", asked, str(tmp_path / "site")],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=True,
    ).stdout.splitlines()
    tables = [
        tomllib.loads(file.read_text(encoding="utf-8"))
        for file in (ROOT / "presets").glob("*.toml")
    ]
    assert told[0].startswith(str(tmp_path))
    assert int(told[1]) == sum(len(table) for table in tables)
    assert int(told[2]) == len(
        [one for one in (ROOT / "demo_images").glob("*.jpg") if one.stem not in LEFT_AT_HOME]
    )


def test_help_does_not_pay_for_the_engines() -> None:
    asked = (
        "import sys; from click.testing import CliRunner; from cropper.cli.main import cropper;"
        "assert CliRunner().invoke(cropper, ['--help']).exit_code == 0;"
        "heavy = {'ai_edge_litert', 'cv2', 'pyvips', 'reportlab', 'jinja2', 'numpy', 'PIL'};"
        "heavy.add('pydantic');"
        "print(*sorted(heavy & set(sys.modules)))"
    )
    told = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True)
    assert told.stdout.strip() == ""


def test_imports_flow_one_way_through_the_rooms() -> None:
    """The contracts in pyproject.toml, kept also where nobody runs `make check`."""
    linter = Path(sys.executable).with_name("lint-imports")
    told = subprocess.run(
        [str(linter), "--no-cache"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert told.returncode == 0, told.stdout
