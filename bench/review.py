"""How long the review page lets a photographer wait: previews, drags, saves, a wall of thumbnails.

    .venv/bin/python -m bench.review [--browser]

Every figure is a median of repeats on this machine, through the real application. The large job
is the demo's two rivals copied under fifty names each, with every shipped destination.
"""

from __future__ import annotations

import asyncio
import os
import shutil
import statistics
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


def enlarged(job: Path, count: int) -> Path:
    """The same job with each master under many names."""
    folder = JobFolder(job)
    plan = folder.must_read()
    many = tuple(replace(plan.masters[at % 2], version=f"picture-{at:03d}") for at in range(count))
    large = job.parent / "large"
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
    saves = timed(save, 8)
    walls = timed(lambda: talk.get("/"), 3)
    print(f"{name}: a drag measured in {ms(drags)}, saved in {ms(saves)}, wall in {ms(walls)}")


def in_a_browser(job: Path, large: Path) -> None:
    from playwright.sync_api import sync_playwright

    serving = [Serving(one) for one in (job, large)]
    threads = [Thread(target=one.run, daemon=True) for one in serving]
    for thread in threads:
        thread.start()
    sandbox = [] if os.getuid() else ["--no-sandbox"]
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=sandbox)
        page = browser.new_page(viewport={"width": 1280, "height": 800})
        page.goto(serving[0].address)
        page.goto(f"{serving[0].address.partition('/open')[0]}/look/{RIVALS[1]}#tall-post")
        page.wait_for_selector("#open-card")
        page.wait_for_timeout(1000)
        box = page.locator("#stage .frame").bounding_box()
        assert box is not None
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
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
        if "--browser" in sys.argv:
            in_a_browser(job, large)


if __name__ == "__main__":
    main()
