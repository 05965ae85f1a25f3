"""The library page's example does what it says, as it stands on the page."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest
from PIL import Image

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "docs" / "how-to" / "use-the-library.md"


@pytest.mark.models
def test_the_example_on_the_library_page_writes_its_files(tmp_path: Path) -> None:
    (code,) = re.findall(
        r"^```python\n(.*?)^```", PAGE.read_text("utf-8"), re.DOTALL | re.MULTILINE
    )
    (tmp_path / "demo_images").symlink_to(ROOT / "demo_images")
    told = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=True
    ).stdout
    assert told.startswith("square-post: ")
    sizes = {}
    for name in ("square-post", "story"):
        with Image.open(tmp_path / "files" / f"{name}.jpg") as picture:
            sizes[name] = picture.size
    assert sizes == {"square-post": (1080, 1080), "story": (1080, 1920)}
