"""A commented ``words.toml`` to start from, with the job's own versions and destinations in it.

Every line that says something is a comment: as it is written, the file says nothing yet.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from types import MappingProxyType
from typing import Final

from cropper.destination.destination import Destination
from cropper.job.job_words import ROLE_LABELS
from cropper.job.store import write_text
from cropper.job.wording_reading import WORDS_FILE
from cropper.job.wording_schema import WEB
from cropper.master.own_words import NO_OWN_WORDS, OwnWords

HEAD: Final = """\
# words.toml: what the files of this job say. Take the # away from what you want said.
# Rights and releases are yours to confirm: cropper writes what stands here and checks no contract.

# language = "en"            # of the words below: en, de-AT ...
# headline = ""              # a few words
# caption = ""               # what the picture shows, who, where, why
# alt_text = ""              # the picture for somebody who cannot see it; better per version, below
# extended_description = ""  # the same at length, if one sentence is not enough
# taken = 2026-03-01         # a day, without quotes
# keywords = ["wool", "portrait"]
# name_people = true         # also write the names of models as persons shown
# source_type = "camera"     # how the picture came to be: camera, film, edited, composite ...
# data_mining = "no training" # or: prohibited, no generative training, search engines only, allowed
# keep_master_words = false  # take nothing from the master's own words; else they fill every gap

# [contact]
# email = "name@example.org" # also: address, city, region, postcode, country, phone
# web = "https://..."

# [copyright]
# year = 2026
# owner = "NAME"
# notice = "© 2026 NAME"     # instead of year and owner: the notice as it is to stand

# Who had a part. Usual roles: {roles};
# any other word will do. A name that is not to be told: name = "withheld".

# [[credit]]
# role = "photographer"
# name = "NAME"
# short = "N."               # where a destination says short = true
# order = 0                  # place in the credit line
# versions = ["..."]         # only in these; all if left out

# What people shown have agreed to: "none", "not needed", "unlimited" or "limited".

# [[release]]
# person = "NAME"
# status = "limited"
# signed = 2026-02-27
# until = 2028-02-28
# scope = "in your own words"

# What a recipient may do; "*" is for everybody without terms of their own.

# [licence."*"]
# terms = "One sentence."
# licensor = "NAME"
# licensor_url = "https://..."
# web_statement = "https://..."
# instructions = "One sentence for whoever receives the file."
# until = 2028-02-28         # the last day
"""
VERSION: Final = """
[version.{name}]
# headline = ""
# caption = ""
# alt_text = ""
"""
IN_ANOTHER: Final = """
# The same in another language, for destinations that say so.

# [[translation]]
# language = "de"
# version = {name}
# caption = ""
# alt_text = ""
"""
DESTINATION: Final = """
[destination.{name}]
"""
MANNER: Final = """\
# credit_line = "Photo {photographer}[ / Make-up {makeup}]"  # [ ] goes if a name is missing
# roles = ["photographer", "makeup"]  # instead of a pattern: who is named
# short = true
# credit_length = 100        # characters; longer lines are cut, and that is said
# caption_length = 300
# language = "de"
# keywords = false           # files for it carry no keywords
"""
FROM_MASTERS: Final = """\
# Found in the masters. These lines count as they stand: correct what is wrong.
"""


def starter_text(
    versions: Sequence[str],
    destinations: Sequence[Destination],
    own: Mapping[str, OwnWords] = MappingProxyType({}),
) -> str:
    """The file's text. It is valid as it stands, and says what the masters say already.

    ``own``: each version's words, as its master carries them.
    """
    recipients = dict.fromkeys(one.recipient for one in destinations if one.recipient)
    head = HEAD.replace("{roles}", ", ".join(ROLE_LABELS))
    parts = [
        head,
        _found(tuple(own.values())),
        *(f'\n# [licence.{_key(one)}]\n# terms = ""\n' for one in recipients),
        _headed(
            "The versions of this job.",
            (_version(one, own.get(one, NO_OWN_WORDS)) for one in versions),
        ),
        *(IN_ANOTHER.format(name=_key(one)) for one in versions[:1]),
        _headed(
            "The destinations of this job. Lengths cut what is copied; a file has every word.",
            _manners(destinations),
        ),
    ]
    return "".join(parts)


def put_starter(
    job: Path,
    versions: Sequence[str],
    destinations: Sequence[Destination],
    own: Callable[[], Mapping[str, OwnWords]] = dict,
) -> bool:
    """Write the starter into the job's folder; False when a file stands there, which stays."""
    path = job / WORDS_FILE
    if path.exists():
        return False
    write_text(path, starter_text(versions, destinations, own()))
    return True


def _found(own: Sequence[OwnWords]) -> str:
    """What all masters that say anything agree on, as lines that count."""
    speaking = [one for one in own if not one.none]
    if not speaking:
        return ""
    parts = []
    notices = {one.copyright for one in speaking}
    if len(notices) == 1 and (notice := notices.pop()):
        parts.append(f"[copyright]\nnotice = {_line(notice)}\n")
    contacts = {one.contact for one in speaking}
    if len(contacts) == 1 and (contact := contacts.pop()):
        lines = "".join(
            f"{part} = {_line(text)}\n"
            for part, text in contact
            if part != "web" or WEB.fullmatch(text)
        )
        parts.append(f"[contact]\n{lines}")
    creators = {one.creator for one in speaking}
    if len(creators) == 1:
        parts += [
            f'[[credit]]\nrole = "photographer"\nname = {_line(name)}\n' for name in creators.pop()
        ]
    return f"\n{FROM_MASTERS}\n" + "\n".join(parts) if parts else ""


def _version(name: str, own: OwnWords) -> str:
    """A version's table, with what its master says of it."""
    table = VERSION.format(name=_key(name))
    for key in ("headline", "caption", "alt_text"):
        if text := getattr(own, key):
            table = table.replace(f'# {key} = ""', f"{key} = {_key(text)}")
    return table


def _line(text: str) -> str:
    return _key(" ".join(text.split()))


def _headed(heading: str, tables: Iterable[str]) -> str:
    body = "".join(tables)
    return f"\n# {heading}\n{body}" if body else ""


def _manners(destinations: Sequence[Destination]) -> Iterator[str]:
    """A table for each, the first with all the keys there are."""
    for at, one in enumerate(destinations):
        yield DESTINATION.format(name=_key(one.name)) + ("" if at else MANNER)


def _key(name: str) -> str:
    """A quoted key; JSON's escapes are TOML's as well (TOML 1.0, basic strings)."""
    return json.dumps(name, ensure_ascii=False).replace("\x7f", "\\u007f")
