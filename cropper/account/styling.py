"""A page's own style, with the versions' tones in it, and the digest that lets it in."""

from __future__ import annotations

import base64
import hashlib
from importlib.resources import files

from markupsafe import Markup

from cropper.account.intervals import DARK_TONES, TONES


def styled(name: str) -> dict[str, Markup]:
    """``style`` and ``style_hash`` (for the page's content security policy) of ``name``.css."""
    source = (files("cropper.account") / "templates" / f"{name}.css").read_text("utf-8")
    for sign, tones in (("@TONES@", TONES), ("@DARK_TONES@", DARK_TONES)):
        source = source.replace(sign, " ".join(f"--t{at}: {one};" for at, one in enumerate(tones)))
    digest = base64.b64encode(hashlib.sha256(source.encode()).digest()).decode("ascii")
    return {
        "style": Markup(source),  # noqa: S704 - the package's own file, nothing of the user's in it
        "style_hash": Markup(digest),  # noqa: S704 - base64 of our own digest
    }
