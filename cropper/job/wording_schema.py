"""What ``words.toml`` looks like: its tables, strict, with readers that say what would be right."""

# ruff: noqa: TRY004 - the validation library collects ValueError; a TypeError would be ours

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, datetime
from typing import Annotated, Final

from pydantic import BaseModel, ConfigDict, PlainValidator

from cropper.destination import reading
from cropper.job.credit_lines import flaw
from cropper.job.job_words import WITHHELD
from cropper.publication.releases import STATUS_WORDS, ReleaseStatus

LONGEST_TEXT: Final = 100_000
"""House: characters of a caption that are still taken for one."""
LANGUAGE: Final = re.compile(r"[A-Za-z]{2,8}(?:-[A-Za-z0-9]{1,8})*")
"""A language tag, roughly (BCP 47, 2.1)."""
WEB: Final = re.compile(r"https?://[^\s<>\"]+", re.IGNORECASE)
STATUSES: Final = {
    "none": ReleaseStatus.NONE,
    "not needed": ReleaseStatus.NOT_APPLICABLE,
    "unlimited": ReleaseStatus.UNLIMITED,
    "limited": ReleaseStatus.LIMITED,
}
"""Plain words for the four codes of PLUS."""


def _long(value: object) -> str:
    """Text of several lines; control characters are left out later, and that is said."""
    if not isinstance(value, str):
        raise ValueError(f"{reading.shown(value)} is not text in quotes")
    if len(value) > LONGEST_TEXT:
        raise ValueError(f"the text is longer than {LONGEST_TEXT} characters")
    return value.strip()


def _said(value: object) -> str:
    """One line of text that says something."""
    text = reading.text(value)
    if not text:
        raise ValueError("is empty; leave the key out, or write 'withheld' for a name")
    return text


def _name(value: object) -> str:
    """A name; "withheld" in any spelling is that word."""
    name = _said(value)
    return WITHHELD if name.casefold() == WITHHELD else name


def _day(value: object) -> date:
    if isinstance(value, datetime) or not isinstance(value, date):
        raise ValueError(f"{reading.shown(value)} is not a day such as 2027-02-28, without quotes")
    return value


def _status(value: object) -> ReleaseStatus:
    known = {**STATUSES, **{str(one): one for one in ReleaseStatus}}
    known |= {words: status for status, words in STATUS_WORDS.items()}
    if not isinstance(value, str) or value not in known:
        codes = ", ".join(f"'{word}' ({code})" for word, code in STATUSES.items())
        raise ValueError(f"{reading.shown(value)} is none of {codes}")
    return known[value]


def _language(value: object) -> str:
    if not isinstance(value, str) or not LANGUAGE.fullmatch(value):
        raise ValueError(f"{reading.shown(value)} is not a language tag such as 'en' or 'de-AT'")
    return value


def _web(value: object) -> str:
    if not isinstance(value, str) or not WEB.fullmatch(value):
        raise ValueError(f"{reading.shown(value)} is not an address such as 'https://...'")
    return value


def _term(terms: dict[str, str], prefix: str) -> Callable[[object], str]:
    """A reader of plain words for terms of a vocabulary below ``prefix``; addresses as they are."""

    def read(value: object) -> str:
        if isinstance(value, str) and value in terms:
            return f"{prefix}{terms[value]}"
        if isinstance(value, str) and value.startswith(prefix):
            return value
        raise ValueError(f"{reading.shown(value)} is none of {', '.join(map(repr, terms))}")

    return read


def _role(value: object) -> str:
    role = _said(value).lower()
    if any(one in role for one in "{}[]"):
        raise ValueError(f"{reading.shown(value)} holds a bracket; a role is a plain word")
    return role


def _pattern(value: object) -> str:
    pattern = _said(value)
    wrong = flaw(pattern)
    if wrong:
        raise ValueError(f"{reading.shown(value)} {wrong}")
    return pattern


def _between(value: object) -> str:
    if not isinstance(value, str) or not value.isprintable() or not 1 <= len(value) <= BETWEEN_MOST:
        raise ValueError(f"{reading.shown(value)} is not a short text such as ' / '")
    return value


BETWEEN_MOST: Final = 20


def _several(value: object) -> tuple[str, ...]:
    if not isinstance(value, list):
        raise ValueError(f"{reading.shown(value)} is not a list such as ['shawl', 'roll-neck']")
    return tuple(dict.fromkeys(_said(one) for one in value))


def _roles(value: object) -> tuple[str, ...]:
    if not isinstance(value, list):
        raise ValueError(f"{reading.shown(value)} is not a list such as ['photographer', 'makeup']")
    return tuple(dict.fromkeys(_role(one) for one in value))


SOURCE_TYPES: Final = {
    "camera": "digitalCapture",
    "film": "negativeFilm",
    "slide": "positiveFilm",
    "edited": "humanEdits",
    "composite": "compositeCapture",
    "composite with synthetic parts": "compositeSynthetic",
    "made by a trained model": "trainedAlgorithmicMedia",
    "composite with parts by a trained model": "compositeWithTrainedAlgorithmicMedia",
}
"""Plain words for IPTC digital source types (NewsCodes)."""
SOURCE_ADDRESS: Final = "http://cv.iptc.org/newscodes/digitalsourcetype/"
DATA_MINING: Final = {
    "allowed": "DMI-ALLOWED",
    "prohibited": "DMI-PROHIBITED",
    "no training": "DMI-PROHIBITED-AIMLTRAINING",
    "no generative training": "DMI-PROHIBITED-GENAIMLTRAINING",
    "search engines only": "DMI-PROHIBITED-EXCEPTSEARCHENGINEINDEXING",
    "see terms": "DMI-PROHIBITED-SEECONSTRAINT",
}
"""Plain words for the data mining terms of PLUS (IPTC Photo Metadata Standard 2023.1 and later)."""
PLUS_ADDRESS: Final = "http://ns.useplus.org/ldf/vocab/"

Line = Annotated[str, PlainValidator(_said)]
Long = Annotated[str, PlainValidator(_long)]
Day = Annotated[date, PlainValidator(_day)]
Web = Annotated[str, PlainValidator(_web)]
Language = Annotated[str, PlainValidator(_language)]
Role = Annotated[str, PlainValidator(_role)]
Several = Annotated[tuple[str, ...], PlainValidator(_several)]
YesNo = Annotated[bool, PlainValidator(reading.yes_no)]
Length = Annotated[int, PlainValidator(reading.whole(1, 10_000, "a number of characters"))]
Order = Annotated[int, PlainValidator(reading.whole(0, 1_000, "a place in the order"))]
Year = Annotated[int, PlainValidator(reading.whole(1826, 9999, "a year"))]
"""From the oldest photograph that is left."""


class Edge(BaseModel):
    """A table of ``words.toml``."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)


class ToldTable(Edge):
    """What is said of the pictures: for the job (no table), and ``[version.NAME]``."""

    headline: Long = ""
    caption: Long = ""
    alt_text: Long = ""
    extended_description: Long = ""
    taken: Day | None = None
    keywords: Several = ()


class TranslationTable(Edge):
    """``[[translation]]``: the same in another language, for the job or one ``version``."""

    language: Language
    version: Line | None = None
    headline: Long = ""
    caption: Long = ""
    alt_text: Long = ""
    extended_description: Long = ""


class JobTable(ToldTable):
    """What stands above all tables."""

    language: Language | None = None
    name_people: YesNo = False
    source_type: Annotated[str, PlainValidator(_term(SOURCE_TYPES, SOURCE_ADDRESS))] = ""
    data_mining: Annotated[str, PlainValidator(_term(DATA_MINING, PLUS_ADDRESS))] = ""
    keep_master_words: YesNo = True


class ContactTable(Edge):
    """``[contact]``: how the photographer can be reached; written into every file."""

    address: Line | None = None
    city: Line | None = None
    region: Line | None = None
    postcode: Line | None = None
    country: Line | None = None
    phone: Line | None = None
    email: Line | None = None
    web: Web | None = None


class CopyrightTable(Edge):
    """``[copyright]``: year and owner, or a notice as it is to be written."""

    year: Year | None = None
    owner: Line | None = None
    notice: Line | None = None


class CreditTable(Edge):
    """``[[credit]]``: somebody's part."""

    role: Role
    name: Annotated[str, PlainValidator(_name)]
    short: Line | None = None
    order: Order = 0
    versions: Several = ()


class ReleaseTable(Edge):
    """``[[release]]``: what a person shown has agreed to."""

    person: Line
    status: Annotated[ReleaseStatus, PlainValidator(_status)]
    signed: Day | None = None
    until: Day | None = None
    scope: Line | None = None
    versions: Several = ()


class LicenceTable(Edge):
    """``[licence.RECIPIENT]``: what they may do; ``"*"`` for whoever has none of their own."""

    terms: Long = ""
    licensor: Line | None = None
    licensor_url: Web | None = None
    web_statement: Web | None = None
    instructions: Line | None = None
    until: Day | None = None


class DestinationTable(Edge):
    """``[destination.NAME]``: how it wants its words."""

    credit_line: Annotated[str, PlainValidator(_pattern)] | None = None
    roles: Annotated[tuple[str, ...], PlainValidator(_roles)] = ()
    between: Annotated[str, PlainValidator(_between)] = " / "
    short: YesNo = False
    credit_length: Length | None = None
    caption_length: Length | None = None
    language: Language | None = None
    keywords: YesNo = True
