"""What both detectors say of every candidate: faces apart from everything else."""
import sys
from pathlib import Path

import numpy as np
import skimage.data
from skimage import io

sys.path.insert(0, str(Path(__file__).parents[2]))
from cropper.subject.detecting import deeper, merged, ordinary, slanted
from cropper.subject.engine import engine
from cropper.subject.meshing import confirmed
from cropper.subject.pyramid import Pyramid
from tests.models.varieties import DEMO, loaded

pictures = {path.stem: loaded(path)[0] for path in sorted(DEMO.glob("*.jpg"))}
for path in sorted(Path(skimage.data.__file__).parent.glob("*.[pj][np]g")):
    one = np.asarray(io.imread(path))
    one = np.repeat(one[:, :, None], 3, axis=2) if one.ndim == 2 else one[:, :, :3]
    if one.dtype == np.uint8:
        pictures[path.name] = np.ascontiguousarray(one)
native = engine()
for name, pixels in pictures.items():
    pyramid = Pyramid(pixels)
    seen = ordinary(native, pyramid) + slanted(native, pyramid) + deeper(native, pyramid, 4)
    for sighting in merged(seen):
        face = confirmed(native, pyramid, sighting)
        if face:
            print(f"{name:32} sighting {sighting.score:.2f} presence {face.presence:.2f}"
                  f" assurance {face.assurance:.2f} spread {face.spread:.4f}")
