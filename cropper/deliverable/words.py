"""The words that travel in a finished file: who made it, what it shows, who may use it how."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from typing import Any, Final
from xml.sax.saxutils import escape

from cropper.deliverable.cutting import cut_to_bytes, plain

BETWEEN_CREATORS: Final = "; "
"""Several creators stand in one field with this between them (Exif 2.32, Artist)."""
MOST_BYTES: Final = {
    "caption": 30_400,
    "extended_description": 3_700,
    "alt_text": 4_000,
    "usage_terms": 4_000,
    "creator": 1_600,
    "credit": 1_600,
    "copyright": 1_600,
    "headline": 1_600,
    "web_statement": 1_000,
    "licensor": 500,
    "licensor_url": 1_000,
    "instructions": 500,
    "source_type": 150,
    "data_mining": 150,
}
"""Bytes of UTF-8 XML that a field may fill; all together fit the 65,502 of one JPEG segment, so
that a caption of 10,000 letters does, and whatever is longer is cut, and said (house)."""
MOST_NAMES: Final = 12
"""Contributors, and people shown, that are written (house, within the same segment)."""
MOST_KEYWORDS_BYTES: Final = 1_200
"""Of all keywords together, likewise."""
CONTACT_BYTES: Final = 100
"""Of one part of the creator's contact, likewise."""
NAME_BYTES: Final = 200
"""Of a contributor's or a shown person's name, likewise; a role has half of it."""
LINES: Final = ("caption", "extended_description", "alt_text", "usage_terms")
"""Fields that may have several lines."""
DAYS: Final = ("licence_until", "date_created")
DAY_LETTERS: Final = 10
"""Of a day, YYYY-MM-DD."""
CARRIED: Final = (
    "creator",
    "credit",
    "copyright",
    "headline",
    "caption",
    "alt_text",
    "extended_description",
    "usage_terms",
    "web_statement",
    "date_created",
    "source_type",
    "data_mining",
    "keywords",
    "contact",
)
"""Fields that a master's own words fill where nobody said anything else."""
RELEASE_CODES: Final = ("MR-NON", "MR-NAP", "MR-UMR", "MR-LMR")
"""PLUS model release status: none, not applicable, unlimited, limited or incomplete."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Contributor:
    """Somebody who had a part in the picture, beside its creator. ``role`` is a plain word."""

    name: str
    role: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """Empty fields are not written.

    - ``creator``: photographers' names, "; " between them.
    - ``credit``: the credit line. ``copyright``: the notice.
    - ``alt_text`` describes the picture to who cannot see it; ``extended_description`` at length.
    - ``usage_terms``: a sentence; ``web_statement``: the address of terms on the web.
    - ``licence_until``: the last day of the licence, YYYY-MM-DD.
    - ``date_created``: the picture's day, or its time as ISO 8601 ("2026-03-01T10:20:30+01:00").
    - ``instructions``: a sentence for whoever receives the file.
    - ``source_type``, ``data_mining``: addresses of a term (IPTC digital source types; PLUS).
    - ``contact``: of the creator, (part, text); parts as in
      :data:`cropper.master.own_words.CONTACT`.
    - ``not_from_master``: fields that stay empty even if the master says something.
    - ``release_status``: a code of PLUS (MR-NON, MR-NAP, MR-UMR, MR-LMR).
    - ``people``: names of people shown, only if they are to be told.
    """

    creator: str = ""
    credit: str = ""
    copyright: str = ""
    headline: str = ""
    caption: str = ""
    alt_text: str = ""
    extended_description: str = ""
    usage_terms: str = ""
    web_statement: str = ""
    licensor: str = ""
    licensor_url: str = ""
    licence_until: str = ""
    date_created: str = ""
    release_status: str = ""
    contributors: tuple[Contributor, ...] = ()
    people: tuple[str, ...] = ()
    instructions: str = ""
    source_type: str = ""
    data_mining: str = ""
    keywords: tuple[str, ...] = ()
    contact: tuple[tuple[str, str], ...] = ()
    not_from_master: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.release_status and self.release_status not in RELEASE_CODES:
            raise ValueError(f"a model release status is one of {', '.join(RELEASE_CODES)}")
        for name in DAYS:
            if getattr(self, name):
                date.fromisoformat(getattr(self, name)[:DAY_LETTERS])

    @property
    def creators(self) -> tuple[str, ...]:
        """The creators' names, apart."""
        return tuple(one for one in self.creator.split(BETWEEN_CREATORS) if one.strip())

    @property
    def none(self) -> bool:
        """Whether there is nothing to write."""
        return replace(self, not_from_master=()) == NO_WORDS


NO_WORDS: Final = Words()


def cleaned(words: Words) -> tuple[Words, tuple[str, ...]]:
    r"""The words without control characters and cut to length, and what was cut, in sentences.

    >>> cleaned(Words(creator="R. Quill\x00feather"))[0].creator
    'R. Quillfeather'
    """
    changed: dict[str, Any] = {}
    said: list[str] = []
    for field, most in MOST_BYTES.items():
        text = plain(getattr(words, field), lines=field in LINES)
        changed[field] = cut_to_bytes(text, most, _xml_bytes)
        if changed[field] != text:
            whose = field.replace("_", " ")
            said.append(f"the {whose} was cut from {len(text)} to {len(changed[field])} characters")
    people, contributors = _names(words, said)
    return replace(
        words,
        **changed,
        people=people,
        contributors=contributors,
        keywords=_keywords(words, said),
        contact=tuple(
            (part, kept)
            for part, text in words.contact
            if (kept := _name(text.replace("\n", ", "), CONTACT_BYTES))
        ),
    ), tuple(said)


def _keywords(words: Words, said: list[str]) -> tuple[str, ...]:
    """As many as there is room for, in their order."""
    kept: list[str] = []
    room = MOST_KEYWORDS_BYTES
    wanted = [one for text in words.keywords if (one := _name(text, NAME_BYTES))]
    for one in wanted:
        room -= _xml_bytes(one) + KEYWORD_TAGS
        if room < 0:
            said.append(f"of {len(wanted)} keywords the first {len(kept)} are in the file")
            break
        kept.append(one)
    return tuple(kept)


KEYWORD_TAGS: Final = 17
"""Bytes of the tags round one item of a list."""


def _names(words: Words, said: list[str]) -> tuple[tuple[str, ...], tuple[Contributor, ...]]:
    """People and contributors, as many and as long as there is room for."""
    people = tuple(_name(one, NAME_BYTES) for one in words.people if _name(one, NAME_BYTES))
    contributors = tuple(
        Contributor(name=_name(one.name, NAME_BYTES), role=_name(one.role, NAME_BYTES // 2))
        for one in words.contributors
        if _name(one.name, NAME_BYTES)
    )
    for what, names in (("people shown", people), ("contributors", contributors)):
        if len(names) > MOST_NAMES:
            said.append(f"of {len(names)} {what} the first {MOST_NAMES} are in the file")
    return people[:MOST_NAMES], contributors[:MOST_NAMES]


def _name(text: str, most: int) -> str:
    return cut_to_bytes(plain(text, lines=False), most, _xml_bytes)


def _xml_bytes(text: str) -> int:
    return len(escape(text).encode())
