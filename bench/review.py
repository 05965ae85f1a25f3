"""How long the review page lets a photographer wait: previews, drags, saves, a wall of thumbnails.

    .venv/bin/python -m bench.review [--browser]

Every figure is a median of repeats on this machine, through the real application. The large job
is the demo's two rivals copied under fifty names each, with every shipped destination.
"""

from __future__ import annotations

import asyncio
import os
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from threading import Thread
from typing import Any

import httpx
from PIL import Image

from cropper._resources import shipped
from cropper.destination.presets import load_presets
from cropper.job.asked import Asked
from cropper.job.running import run_plan
from cropper.job.store import JobFolder
from cropper.master.opening import open_master
from cropper.review.app import application
from cropper.review.cabinet import LENGTHS, Cabinet
from cropper.review.desk import Desk
from cropper.review.guard import Guard, Keys
from cropper.review.serving import Serving

RIVALS = ("fernhollow_a_frontal", "fernhollow_i_shawl_rival")
LARGE = "fernhollow_a_master"
SIZE_24_MP = (4390, 5488)
HOST = "127.0.0.1:8123"
COLD_STARTS = 3


def ms(seconds: list[float]) -> str:
    return f"{1000 * statistics.median(seconds):.1f} ms (worst {1000 * max(seconds):.0f})"


def timed(what: Callable[[], object], repeats: int) -> list[float]:
    took = []
    for _ in range(repeats):
        start = time.perf_counter()
        what()
        took.append(time.perf_counter() - start)
    return took


def a_job(home: Path) -> Path:
    files = tuple(home / f"{name}.jpg" for name in RIVALS)
    for file in files:
        file.write_bytes((shipped("demo_images") / file.name).read_bytes())
    asked = Asked(files=files, destinations=load_presets().choose(["all"]))
    run_plan(home / "job", asked, now=datetime.now(UTC), set_name="knit")
    return home / "job"


def enlarged(job: Path, count: int, name: str = "large") -> Path:
    """The same job with each master under many names."""
    folder = JobFolder(job)
    plan = folder.must_read()
    many = tuple(replace(plan.masters[at % 2], version=f"picture-{at:03d}") for at in range(count))
    large = job.parent / name
    large.mkdir()
    JobFolder(large).write(replace(plan, masters=many, sets=()))
    return large


class Talk:
    """The page's side, in this process."""

    def __init__(self, job: Path) -> None:
        keys = Keys()
        self.desk = Desk(job)
        app: Guard = application(self.desk, Cabinet(job), keys, hosts=frozenset({HOST}), port=8123)
        self.loop = asyncio.new_event_loop()
        self.client = httpx.AsyncClient(
            transport=httpx.ASGITransport(app=app), base_url=f"http://{HOST}"
        )
        self.get(f"/open?key={keys.key}")

    def get(self, path: str) -> httpx.Response:
        return self.loop.run_until_complete(self.client.get(path))

    def post(self, path: str, body: dict[str, Any]) -> httpx.Response:
        sent = self.client.post(path, json=body, headers={"origin": f"http://{HOST}"})
        answer = self.loop.run_until_complete(sent)
        assert answer.status_code == 200, answer.text
        return answer


def previews(home: Path) -> None:
    path = home / "large.jpg"
    with (shipped("demo_images") / f"{LARGE}.jpg").open("rb") as file, Image.open(file) as master:
        grown = master.resize(SIZE_24_MP)
        grown.save(path, quality=92, icc_profile=master.info.get("icc_profile"))
    size = open_master(path).size
    destination = load_presets().choose(["tall-post"])
    asked = Asked(files=(path,), destinations=destination)
    run_plan(home / "one", asked, now=datetime.now(UTC))
    planned = JobFolder(home / "one").must_read().masters[0]

    def made() -> None:
        shutil.rmtree(home / "one" / "review", ignore_errors=True)
        Cabinet(home / "one").preview(planned, max(LENGTHS))

    megapixels = size.width * size.height / 1e6
    print(f"previews of a {megapixels:.0f} MP master, all lengths: {ms(timed(made, 5))}")


def answers(job: Path, name: str, version: str) -> None:
    talk = Talk(job)
    shift = 0

    def frame() -> dict[str, Any]:
        nonlocal shift
        shift = (shift + 1) % 50
        return {"box": [300 + shift, 200, 1260 + shift, 1400], "deg": 0, "anchor": "centre"}

    where = {"version": version, "destination": "tall-post"}
    drags = timed(lambda: talk.post("/api/measure", {**where, "frame": frame()}), 100)
    revision = talk.get("/api/state").json()["revision"]

    def save() -> None:
        nonlocal revision
        body = {"revision": revision, **where, "frame": frame()}
        revision = talk.post("/api/adjust", body).json()["revision"]

    save()
    cpu = time.process_time()
    saves = timed(save, 8)
    cpu = (time.process_time() - cpu) / len(saves)
    walls = timed(lambda: talk.get("/"), 3)
    print(
        f"{name}: a drag measured in {ms(drags)}, saved in {ms(saves)}, "
        f"{1000 * cpu:.0f} ms of CPU each, wall in {ms(walls)}"
    )


FRAMES = """() => {
    window.cropperFrames = [];
    let last = performance.now();
    const step = (now) => {
        window.cropperFrames.push(now - last);
        last = now;
        requestAnimationFrame(step);
    };
    requestAnimationFrame(step);
}"""
SHARP = """() => {
    const one = document.querySelector('#mount .master');
    const wide = one ? one.naturalWidth * one.getBoundingClientRect().width : 0;
    return wide > 0 && one.complete
        && Math.max(one.naturalWidth, one.naturalHeight) >= 0.9 * devicePixelRatio
            * Math.max(one.getBoundingClientRect().width, one.getBoundingClientRect().height);
}"""


def large_job(home: Path) -> Path:
    """One 24 MP master with every destination, none of its previews made."""
    path = home / "large24.jpg"
    with (shipped("demo_images") / f"{LARGE}.jpg").open("rb") as file, Image.open(file) as master:
        grown = master.resize(SIZE_24_MP)
        grown.save(path, quality=92, icc_profile=master.info.get("icc_profile"))
    asked = Asked(files=(path,), destinations=load_presets().choose(["all"]))
    run_plan(home / "job24", asked, now=datetime.now(UTC))
    return home / "job24"


def seconds_until(page: Any, holds: str) -> float:
    start = time.perf_counter()
    while not page.evaluate(holds):
        page.wait_for_timeout(5)
    return time.perf_counter() - start


def p95(values: list[float]) -> float:
    return sorted(values)[int(0.95 * (len(values) - 1))]


def drag_and_open(browser: Any, home: Path) -> None:
    """A cold click on a 24 MP master until its picture is sharp, and a drag on it."""
    job = large_job(home)
    cold = []
    for _ in range(COLD_STARTS):
        shutil.rmtree(job / "review", ignore_errors=True)
        serving = Serving(job)
        Thread(target=serving.run, daemon=True).start()
        page = browser.new_page(viewport={"width": 1440, "height": 900})
        page.goto(serving.address)
        page.wait_for_selector(".row")
        shutil.rmtree(job / "review", ignore_errors=True)
        start = time.perf_counter()
        page.goto(f"{serving.address.partition('/open')[0]}/look/large24#tall-post")
        seconds_until(page, SHARP)
        cold.append(time.perf_counter() - start)
        if len(cold) < COLD_STARTS:
            page.close()
            serving.stop()
    print(f"a 24 MP master, cold: sharp {ms(cold)} after the click")
    page.wait_for_timeout(500)
    x, y = page.evaluate(
        """() => {
            const box = document.querySelector('#stage .frame').getBoundingClientRect();
            return [box.x + box.width / 2, box.y + box.height / 2];
        }"""
    )
    page.mouse.move(x, y)
    page.mouse.down()
    page.evaluate(FRAMES)
    for step in range(120):
        page.mouse.move(x + 20 * ((step % 20) - 10) / 10, y - step / 4)
        page.wait_for_timeout(16)
    frames = page.evaluate("cropperFrames.slice(3)")
    page.mouse.up()
    took = [one / 1000 for one in page.evaluate("cropperTimings")]
    print(
        f"a drag on it: frames p95 {p95(frames):.1f} ms (median {statistics.median(frames):.1f}, "
        f"{len(frames)} frames), verdict after {ms(took)}, {len(took)} answers"
    )
    page.close()
    serving.stop()


def a_large_wall(browser: Any, huge: Path) -> None:
    """A wall of 1,000 masters, served by a process of its own: its first pictures, its memory."""
    command = [str(Path(sys.executable).parent / "cropper"), "review", "--no-browser"]
    serving = subprocess.Popen([*command, "--job", str(huge)], stdout=subprocess.PIPE, text=True)
    assert serving.stdout is not None
    address = serving.stdout.readline().strip()
    page = browser.new_page(viewport={"width": 1440, "height": 900})
    start = time.perf_counter()
    page.goto(address)
    seconds_until(page, "document.querySelector('.row image[href]') !== null")
    seconds_until(
        page, "performance.getEntriesByType('resource').some(r => /preview/.test(r.name))"
    )
    first = time.perf_counter() - start
    base = address.partition("/open")[0]
    for number in range(3):
        page.goto(f"{base}/?page={number + 2}")
        page.goto(f"{base}/look/picture-{number:03d}#tall-post")
        seconds_until(page, SHARP)
    status = Path(f"/proc/{serving.pid}/status")
    held = re.findall(r"VmHWM:\s+(\d+)", status.read_text()) if status.exists() else []
    megabytes = f"{int(held[0]) / 1024:.0f} MB at most" if held else "memory not told here"
    print(f"a wall of 1,000: first pictures after {first:.2f} s, the server held {megabytes}")
    page.close()
    serving.terminate()
    serving.wait()


def in_a_browser(home: Path, job: Path, large: Path, huge: Path) -> None:
    from playwright.sync_api import sync_playwright

    serving = [Serving(one) for one in (job, large)]
    threads = [Thread(target=one.run, daemon=True) for one in serving]
    for thread in threads:
        thread.start()
    sandbox = [] if os.getuid() else ["--no-sandbox"]
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=sandbox)
        drag_and_open(browser, home)
        a_large_wall(browser, huge)
        page = browser.new_page(viewport={"width": 1280, "height": 800})
        page.goto(serving[0].address)
        page.goto(f"{serving[0].address.partition('/open')[0]}/look/{RIVALS[1]}#tall-post")
        page.wait_for_selector("#open-card")
        page.wait_for_timeout(1000)
        x, y = page.evaluate(
            """() => {
                const box = document.querySelector('#stage .frame').getBoundingClientRect();
                return [box.x + box.width / 2, box.y + box.height / 2];
            }"""
        )
        page.mouse.move(x, y)
        page.mouse.down()
        for step in range(120):
            page.mouse.move(x + step / 2, y)
            page.wait_for_timeout(16)
        page.mouse.up()
        took = [one / 1000 for one in page.evaluate("cropperTimings")]
        print(f"in the browser: a drag answered in {ms(took)}, {len(took)} answers")

        page.goto(serving[1].address)
        frames = page.evaluate(
            """() => new Promise((told) => {
                const times = [];
                let last = performance.now();
                const step = (now) => {
                    times.push(now - last);
                    last = now;
                    window.scrollBy(0, 60);
                    if (times.length < 240) requestAnimationFrame(step);
                    else told(times.slice(5));
                };
                requestAnimationFrame(step);
            })"""
        )
        slow = sum(one > 50 for one in frames)
        print(
            f"scrolling the wall of 100: a frame every {ms([one / 1000 for one in frames])}, "
            f"{slow} of {len(frames)} later than 50 ms"
        )
        browser.close()
    for one in serving:
        one.stop()


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        previews(home)
        job = a_job(home)
        destinations = len(JobFolder(job).must_read().destinations)
        large = enlarged(job, 100)
        answers(job, f"2 masters x {destinations} destinations", RIVALS[1])
        answers(large, f"100 masters x {destinations} destinations", "picture-001")
        huge = enlarged(job, 1000, "huge")
        answers(huge, f"1,000 masters x {destinations} destinations", "picture-001")
        if "--browser" in sys.argv:
            in_a_browser(home, job, large, huge)


if __name__ == "__main__":
    main()
