"""Where the shipped presets and demo pictures lie: inside the installed package, or the checkout.

A wheel carries them inside the package; in a checkout they stand at the top level, where a
photographer finds them. Both are read through ``Traversable``: a zipped package works as well.
"""

from __future__ import annotations

from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Final

from cropper.errors import CropperError

PACKAGE: Final = "cropper"


def shipped(name: str) -> Traversable:
    """The shipped folder called ``name`` (``presets``, ``demo_images``).

    Raises :class:`CropperError` when the installation does not carry it.
    """
    packaged = files(PACKAGE) / name
    if packaged.is_dir():
        return packaged
    checkout = Path(__file__).resolve().parent.parent
    # Without pyproject.toml the folder above is site-packages, where `presets` may be anybody's.
    if (checkout / "pyproject.toml").is_file() and (checkout / name).is_dir():
        return checkout / name
    raise CropperError(
        f"the folder {name!r} that comes with cropper is missing from this installation",
        way_out="Install cropper again from its wheel or checkout",
    )
