"""A real browser, the real command in a process of its own, and a small planned job.

Without the system's chromium the tests here are skipped, and say so.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path
from threading import Thread

import pytest
from PIL import Image, ImageFilter
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from cropper._resources import shipped
from cropper.destination.presets import load_presets
from cropper.job.asked import Asked
from cropper.job.plan import Plan
from cropper.job.running import run_plan
from cropper.job.store import JobFolder
from cropper.review.serving import Serving

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
DESTINATIONS = "tall-post,story,avatar,page-header,spread-a4,print-8x10,print-10x15cm"
VERSIONS = ("fernhollow_a_frontal", "fernhollow_i_shawl_rival")
BLURRED = "too-soft-to-find"
FACE_NEEDED = "id-35x45mm"
"""Planned for the blurred picture only: the one destination that has no crop without a face."""
WAIT_MS = 10_000


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """The system's chromium, without a window."""
    if CHROMIUM is None:
        pytest.skip("the system has no chromium (Debian: apt install chromium)")
    sandbox = [] if os.getuid() else ["--no-sandbox"]  # the sandbox refuses the superuser
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=sandbox)
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def planned_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's two rivals, and a picture blurred until the finder gives up."""
    home = tmp_path_factory.mktemp("browser")
    rivals = []
    for version in VERSIONS:
        rivals.append(home / f"{version}.jpg")
        rivals[-1].write_bytes((shipped("demo_images") / f"{version}.jpg").read_bytes())
    soft = home / f"{BLURRED}.jpg"
    with Image.open(rivals[0]) as sharp:
        sharp.filter(ImageFilter.GaussianBlur(sharp.width / 16)).save(soft, quality=90)
    destinations = load_presets().choose(DESTINATIONS.split(","))
    now = datetime.now(UTC)
    asked = Asked(files=tuple(rivals), destinations=destinations)
    run_plan(home / "job", asked, now=now, set_name="knit")
    more = load_presets().choose([*DESTINATIONS.split(","), FACE_NEEDED])
    run_plan(home / "job", Asked(files=(soft,), destinations=more), now=now)
    return home


@pytest.fixture
def job(planned_once: Path, tmp_path: Path) -> Path:
    """A copy of the planned job, to be changed at will."""
    home = tmp_path / "home"
    shutil.copytree(planned_once, home)
    return home / "job"


@dataclass
class Server:
    """A job's page, in a thread of this process."""

    job: Path
    address: str

    @property
    def base(self) -> str:
        """The address without its key."""
        return self.address.partition("/open")[0]

    @property
    def port(self) -> int:
        return int(self.base.rpartition(":")[2])

    def plan(self) -> Plan:
        """What the job folder holds now."""
        return JobFolder(self.job).must_read()


@dataclass
class Command:
    """``cropper review`` in a process of its own, to be killed."""

    job: Path
    process: subprocess.Popen[str] | None = None

    def start(self) -> Server:
        """Start it; it tells the address to open."""
        command = [str(Path(sys.executable).parent / "cropper"), "review", "--no-browser"]
        self.process = subprocess.Popen(
            [*command, "--job", str(self.job)],
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        )
        assert self.process.stdout is not None
        return Server(self.job, self.process.stdout.readline().strip())

    def kill(self) -> None:
        """End it without a word."""
        if self.process is not None:
            self.process.kill()
            self.process.wait()
            assert self.process.stdout is not None
            self.process.stdout.close()
            self.process = None


@pytest.fixture
def server(job: Path) -> Iterator[Server]:
    serving = Serving(job)
    thread = Thread(target=serving.run)
    thread.start()
    yield Server(job, serving.address)
    serving.stop()
    thread.join(10)


@pytest.fixture
def command(job: Path) -> Iterator[Command]:
    one = Command(job)
    yield one
    one.kill()


def settled(plan: Plan) -> Plan:
    """The plan but for what only says whether a set must be worked out again."""
    return replace(plan, sets=tuple(replace(one, basis="") for one in plan.sets))


def until(page: Page, holds: str) -> None:
    """Wait until an expression holds; the page's own policy forbids to wait inside it."""
    for _ in range(WAIT_MS // 40):
        if page.evaluate(holds):
            return
        page.wait_for_timeout(40)
    message = f"never came: {holds}"
    raise AssertionError(message)


def soon(page: Page, told: Callable[[], object], wanted: object) -> None:
    """Wait until ``told`` gives what is wanted; on a busy machine that takes longer."""
    for _ in range(WAIT_MS // 40):
        if told() == wanted:
            return
        page.wait_for_timeout(40)
    assert told() == wanted


@dataclass
class Visit:
    """A browser window, with everything it complained of or asked from elsewhere."""

    context: BrowserContext
    page: Page
    base: str
    complaints: list[str] = field(default_factory=list)
    elsewhere: list[str] = field(default_factory=list)

    def watch(self) -> None:
        self.page.set_default_timeout(WAIT_MS)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on(
            "console",
            lambda line: self.complaints.append(line.text) if line.type == "error" else None,
        )
        self.context.on(
            "request",
            lambda asked: None if asked.url.startswith(self.base) else self._away(asked.url),
        )

    def _away(self, url: str) -> None:
        self.elsewhere.append(url)

    def look(self, version: str, destination: str = "tall-post") -> Page:
        """The page of one master, drawn."""
        self.page.goto(f"{self.base}/look/{version}#{destination}")
        self.page.wait_for_selector("#open-card")
        return self.page

    def saved(self) -> None:
        """Wait until the page says that all is saved."""
        until(
            self.page, "/^(Saved|Undone|Redone)/.test(document.getElementById('saved').textContent)"
        )


@pytest.fixture
def visit(browser: Browser, server: Server) -> Iterator[Visit]:
    """A window of 1280 x 800 with the page open; at the end it may have complained of nothing."""
    context = browser.new_context(viewport={"width": 1280, "height": 800})
    one = Visit(context, context.new_page(), server.base)
    one.watch()
    one.page.goto(server.address)
    yield one
    complaints, elsewhere = list(one.complaints), list(one.elsewhere)
    context.close()
    assert complaints == []
    assert elsewhere == []
