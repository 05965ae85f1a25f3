"""The photographer's own destinations: a folder that is always read, and files to start from."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final

from cropper.destination import reading
from cropper.errors import CropperError, MisuseError
from cropper.geometry import Size

FOLDER: Final = "destinations"
_HEADER: Final = re.compile(r"^\[\[?(?P<name>[\w-]+)(?P<rest>[\w.-]*)\]\]?", re.MULTILINE)
"""``[story]``, ``[story.finish]`` and ``[[story.covered]]``: the name and what follows it."""
_SIZE: Final = re.compile(r"^size_px = .*$", re.MULTILINE)

STARTER: Final = """\
# {name}: a destination of your own. Change what you like, then look: cropper destinations {name}
# Every key is explained in docs/reference/presets.md.

[{name}]
size_px = [{width}, {height}]      # width and height of the finished file
groups = ["own"]                   # named together: cropper plan ... --for own
# title = "{title}"
# description = "Where it is shown, in a sentence."
# framing = ["close-up", "half length"]   # how much of the person may be seen
# greatest_enlargement = 1.15      # how far a small crop may be enlarged; 1 is not at all
# recipient = "client"             # for whom it is: files can be sorted by it
# finish = {{ quality = 90, byte_cap = "500 kB" }}

# A part that buttons, prices or a clock lie over: left, top, right, bottom; y runs down.
# [[{name}.covered]]
# name = "buttons"
# box = [0, 0.80, 1, 1]
# keep_clear = "face"
"""


def own_folder() -> Path:
    """Where own destinations lie, in the user's own data folder; it need not exist."""
    from platformdirs import user_data_path  # noqa: PLC0415 - keeps --help instant

    return user_data_path("cropper", appauthor=False) / FOLDER


def starter(name: str, size: Size) -> str:
    """A commented file for a destination called ``name`` of ``size`` pixels."""
    return STARTER.format(name=name, width=size.width, height=size.height, title=title_of(name))


def title_of(name: str) -> str:
    """The title of a destination that states none.

    >>> title_of("shop-tile")
    'Shop tile'
    """
    return name.replace("-", " ").replace("_", " ").capitalize()


def copied(text: str, like: str, name: str, size: Size | None) -> str:
    """The table ``like`` out of a preset file's ``text``, under another ``name`` and size."""
    headers = [*_HEADER.finditer(text)]
    ends = [*(one.start() for one in headers[1:]), len(text)]
    parts = [
        text[header.start() : end]
        for header, end in zip(headers, ends, strict=True)
        if header["name"] == like
    ]
    table = _HEADER.sub(lambda one: one.group().replace(like, name, 1), "".join(parts)).rstrip()
    table = re.sub(r"^title = .*$", f'title = "{title_of(name)}"', table, flags=re.MULTILINE)
    if size is not None:
        table, count = _SIZE.subn(f"size_px = [{size.width}, {size.height}]", table)
        if not count:
            raise MisuseError(
                f"'{like}' has no size in pixels", way_out="Leave --size out, then edit the file"
            )
    head = f"# {name}: begun as a copy of {like}. Look at it: cropper destinations {name}\n\n"
    return head + table + "\n"


def file_for(name: str) -> Path:
    """The file of a new own destination.

    Raises :class:`MisuseError` for a name that is none, :class:`CropperError` if it is there.
    """
    try:
        reading.name(name)
    except ValueError as error:
        raise MisuseError(str(error), way_out="Write it like shop-tile") from error
    path = own_folder() / f"{name}.toml"
    if path.exists():
        raise CropperError(f"{path} is there already", way_out="Edit it, or choose another name")
    return path
