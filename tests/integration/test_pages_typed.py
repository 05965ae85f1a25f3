"""Every command of the README and the how-to pages, typed as printed, in order, in one folder.

A block that needs what a reader may not have (a cluster, another program) says so in the comment
``<!-- not typed: why -->`` on the line before it; nothing else is left out. A line may end in a
comment ``# exit 4`` where the page tells that the answer is no.
"""

from __future__ import annotations

import glob
import os
import re
import shlex
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

from cropper.cli.main import cropper
from cropper.errors import EXIT_DONE, EXIT_NEEDS_YOUR_EYE

ROOT = Path(__file__).parents[2]
PAGES = (ROOT / "README.md", *sorted((ROOT / "docs/how-to").glob("*.md")))
MASTERS = ("fernhollow_a_frontal.jpg", "fernhollow_i_shawl_rival.jpg")
BLOCK = re.compile(
    r"(?P<skip><!-- not typed: [^\n]+ -->\n+)?"
    r"(?:^ *```(?P<kind>\w*)\n(?P<fenced>.*?)^ *```$|(?P<bare>(?:^ {4,}\S[^\n]*\n)+))",
    re.MULTILINE | re.DOTALL,
)
TOML = re.compile(
    r"`(?P<name>[\w./-]+\.toml)`[^`]*\n\n *```toml\n(?P<text>.*?)^ *```", re.MULTILINE | re.DOTALL
)
"""A file that the page has the reader write: its name in the sentence just before."""
EXPECTED = re.compile(r"\s+# exit (?P<code>\d+)$")


def commands(page: str) -> Iterator[str]:
    """The command lines of a page, continued lines joined."""
    for block in BLOCK.finditer(page):
        if block["skip"]:
            continue
        text = block["fenced"] if block["bare"] is None else block["bare"]
        if block["kind"] not in {None, "", "console", "sh"}:
            continue
        for line in text.replace("\\\n", " ").splitlines():
            typed = line.strip().removeprefix("$ ")
            if typed.startswith(("cropper ", "export ")):
                yield typed


def typed(line: str) -> tuple[int, str]:
    """The exit code and all that was said; a pattern is unfolded as a shell does."""
    words = shlex.split(line, comments=True)
    if words[0] == "export":
        name, _, value = words[1].partition("=")
        os.environ[name] = value
        return EXIT_DONE, ""
    plain = [one for word in words[1:] for one in (sorted(glob.glob(word)) or [word])]  # noqa: PTH207
    done = CliRunner().invoke(cropper, plain)
    if done.exception is not None and not isinstance(done.exception, SystemExit):
        raise done.exception
    return done.exit_code, done.output


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with the shipped pictures; the page of `review` is opened and closed at once."""
    (tmp_path / "demo_images").mkdir()
    for name in MASTERS:
        shutil.copy(ROOT / "demo_images" / name, tmp_path / "demo_images")
    monkeypatch.setattr("cropper.review.serving.Serving.run", lambda page: page._listening.close())
    monkeypatch.setattr("click.launch", lambda _address: 0)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("CROPPER_RECORD", "")
    monkeypatch.delenv("CROPPER_RECORD")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_what_the_pages_print_can_be_typed(desk: Path) -> None:
    faults, count = [], 0
    for page in PAGES:
        text = page.read_text(encoding="utf-8")
        os.environ.pop("CROPPER_RECORD", None)  # a page is typed into a shell of its own
        for file in TOML.finditer(text):
            path = desk / file["name"]
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(
                re.sub(r"^ {4}", "", file["text"], flags=re.MULTILINE), encoding="utf-8"
            )
        for line in commands(text):
            count += 1
            asked = EXPECTED.search(line)
            code, said = typed(line)
            if code not in ({int(asked["code"])} if asked else {EXIT_DONE, EXIT_NEEDS_YOUR_EYE}):
                faults.append(f"{page.name}: {line}\n  exit {code}: {said.strip()[-400:]}")
    assert not faults, "\n".join(faults)
    assert count > 40
    assert not list((desk / "data").rglob("*.sqlite*")), "written into the reader's own record"
