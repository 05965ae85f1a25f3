"""Ask the registry for a ready wheel of everything that cropper needs, per system and Python.

    python -m bench.wheels [--python 3.13] [--system "Linux ARM"]

For each pair pip resolves the run-time dependencies as pinned in constraints.txt, for that system
and from wheels alone, and installs nothing. What lacks is named; the exit code is then 1.
pyvips comes as source on every system: it is plain Python, and pip makes its wheel on the spot; the
library that it needs has wheels of its own (pyvips-binary), which are asked for.
"""

from __future__ import annotations

import argparse
import json
import re
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
PYTHONS = ("3.11", "3.12", "3.13", "3.14")
SOURCE_ONLY = {"pyvips": ["cffi"]}
"""Plain Python without a wheel, and what each needs itself."""
SYSTEMS = {
    "Linux x86-64": [f"manylinux_2_{minor}_x86_64" for minor in (35, 34, 31, 28, 27, 26, 17)]
    + ["manylinux2014_x86_64"],
    "Linux ARM": [f"manylinux_2_{minor}_aarch64" for minor in (35, 34, 31, 28, 27, 26, 17)]
    + ["manylinux2014_aarch64"],
    "macOS ARM": [
        f"macosx_{major}_0_{kind}"
        for major in (15, 14, 13, 12, 11)
        for kind in ("arm64", "universal2")
    ]
    + ["macosx_10_9_universal2", "macosx_10_13_universal2"],
    "macOS Intel": [
        f"macosx_{major}_0_{kind}"
        for major in (15, 14, 13, 12, 11)
        for kind in ("x86_64", "universal2")
    ]
    + [f"macosx_10_{minor}_x86_64" for minor in (15, 14, 13, 12, 11, 10, 9)],
    "Windows": ["win_amd64"],
}


def _name(need: str) -> str:
    return re.split(r"[<>=!~ (\[]", need)[0].lower()


def resolved(system: str, python: str, needs: list[str]) -> tuple[list[str], str]:
    """The wheels that pip would take, or what it could not find."""
    with tempfile.TemporaryDirectory() as folder:
        report = Path(folder) / "report.json"
        command = [sys.executable, "-m", "pip", "install", "--dry-run", "--quiet", "--no-input"]
        command += ["--ignore-installed", "--only-binary=:all:", "--python-version", python]
        command += [f"--platform={tag}" for tag in SYSTEMS[system]]
        command += ["--target", folder, "--report", str(report)]
        command += ["--constraint", str(ROOT / "constraints.txt"), *needs]
        told = subprocess.run(command, capture_output=True, text=True, check=False)
        if told.returncode == 0:
            wheels = json.loads(report.read_text())["install"]
            return [one["metadata"]["name"] for one in wheels], ""
    lacking = re.search(r"No matching distribution found for (.+)", told.stderr) or re.search(
        r"Cannot install (.+?) because", told.stderr
    )
    return [], lacking.group(1) if lacking else told.stderr.strip().splitlines()[-1]


def all_lacking(system: str, python: str, needs: list[str]) -> tuple[int, list[str]]:
    """How many wheels there are, and every need that has none."""
    left, lacking = list(needs), []
    while True:
        found, missing = resolved(system, python, left)
        if not missing:
            return len(found), lacking
        lacking.append(missing)
        fewer = [one for one in left if _name(one) != _name(missing)]
        if len(fewer) == len(left):
            return 0, lacking
        left = fewer


def main() -> int:
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--python", choices=PYTHONS, action="append")
    asked.add_argument("--system", choices=list(SYSTEMS), action="append")
    chosen = asked.parse_args()
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    needs = [one for one in project["dependencies"] if _name(one) not in SOURCE_ONLY]
    needs += [one for more in SOURCE_ONLY.values() for one in more]
    failed = False
    for system in chosen.system or SYSTEMS:
        for python in chosen.python or PYTHONS:
            count, lacking = all_lacking(system, python, needs)
            failed |= bool(lacking)
            said = f"no wheel of {', '.join(lacking)}" if lacking else f"{count} wheels, all there"
            print(f"{system:13} Python {python}: {said}", flush=True)
    return int(failed)


if __name__ == "__main__":
    sys.exit(main())
