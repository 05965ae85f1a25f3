"""One network on the LiteRT runtime: arrays in, arrays out, one core.

The runtime is for one thread at a time: every thread makes its own networks.
"""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from cropper.errors import FinderError
from cropper.subject.finders import Pixels
from cropper.subject.hush import hushed
from cropper.subject.weights import read_weight

Values = NDArray[np.float32]


class Network:
    """A network by the name of its weights; ``side`` is that of the square picture it takes.

    ``span`` is what black and white become: (0, 1) or (-1, 1); networks that take bytes get them.
    """

    def __init__(self, name: str, *, span: tuple[float, float] = (0.0, 1.0)) -> None:
        self._low, self._step = span[0], (span[1] - span[0]) / 255.0
        with hushed():
            self._runner = _interpreter()(model_content=read_weight(name), num_threads=1)
            self._runner.allocate_tensors()
        given = self._runner.get_input_details()[0]
        self._input = given["index"]
        self._raw = given["dtype"] is np.uint8
        self.side = int(given["shape"][1])
        # By name: the order in which a file lists its outputs says nothing.
        outputs = sorted(self._runner.get_output_details(), key=lambda one: str(one["name"]))
        self._outputs = [one["index"] for one in outputs]

    def run(self, values: Values | Pixels) -> list[Values]:
        """What the network answers, flat arrays, one per output, in the order of their names."""
        self._runner.set_tensor(self._input, values)
        self._runner.invoke()
        return [self._runner.get_tensor(one).ravel() for one in self._outputs]

    def look(self, picture: Pixels) -> list[Values]:
        """The same for a square picture, brought to the network's own size."""
        if picture.shape[:2] != (self.side, self.side):
            shrunk = picture.shape[0] > self.side
            how = cv2.INTER_AREA if shrunk else cv2.INTER_LINEAR
            picture = np.asarray(
                cv2.resize(picture, (self.side, self.side), interpolation=how), np.uint8
            )
        if self._raw:
            return self.run(picture[None])
        values = picture.astype(np.float32) * np.float32(self._step) + np.float32(self._low)
        return self.run(values[None])


def _interpreter() -> Any:
    """The runtime's interpreter, or a sentence that says what lacks."""
    try:
        from ai_edge_litert.interpreter import Interpreter  # noqa: PLC0415 - heavy
    except (ImportError, OSError) as error:
        raise FinderError(
            f"the finding engine cannot be loaded ({error})",
            way_out="The Python package is ai-edge-litert; eyes can also be placed by hand with "
            "--eyes",
        ) from error
    return Interpreter
