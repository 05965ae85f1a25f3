"""What a job says about its pictures: who made them, what they show, who may use them how.

Values only; :mod:`wording_reading` makes them from ``words.toml``, :mod:`wording` chooses from
them for one file.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from typing import Final, TypeVar

from cropper.publication.releases import ReleaseStatus

WITHHELD: Final = "withheld"
"""A name that is not to be told."""
EVERYBODY: Final = "*"
"""The recipient whose licence holds for whoever has none of their own."""
PHOTOGRAPHER: Final = "photographer"
MODEL: Final = "model"
ROLE_LABELS: Final = {
    PHOTOGRAPHER: "Photo",
    "makeup": "Make-up",
    "hair": "Hair",
    MODEL: "Model",
    "styling": "Styling",
    "retouching": "Retouching",
    "assistant": "Assistant",
    "agency": "Agency",
    "lender": "Lent by",
    "client": "For",
}
"""Roles of a portrait and what stands before their names in a credit line (house)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Credit:
    """Somebody's part. ``versions``: in which they had it; empty for all."""

    role: str
    name: str
    short: str = ""
    order: int = 0
    versions: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not self.role or not self.name:
            raise ValueError("a credit has a role and a name, or the name 'withheld'")

    @property
    def withheld(self) -> bool:
        """Whether the name is not to be told."""
        return self.name == WITHHELD

    def shown(self, *, short: bool) -> str:
        """The name, or its short form."""
        return self.short if short and self.short else self.name


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonRelease:
    """What a person shown has agreed to; days are whole, ``until`` is the last of them."""

    person: str
    status: ReleaseStatus
    signed: date | None = None
    until: date | None = None
    scope: str = ""
    versions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LicenceTerms:
    """What a recipient may do; ``until`` is the last day of it."""

    recipient: str = EVERYBODY
    terms: str = ""
    licensor: str = ""
    licensor_url: str = ""
    web_statement: str = ""
    instructions: str = ""
    until: date | None = None

    @property
    def says_terms(self) -> bool:
        """Whether it says what may be done; the master's own terms do not count then."""
        return bool(self.terms or self.web_statement or self.licensor or self.until)


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What is said of the pictures, of one version's, or in one language; empty: not said here."""

    version: str = ""
    language: str = ""
    headline: str = ""
    caption: str = ""
    alt_text: str = ""
    extended_description: str = ""
    taken: date | None = None
    keywords: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Manner:
    """How a destination wants its words. Lengths are in characters as a reader counts them.

    ``pattern``: the credit line with ``{role}`` for names and ``[ ]`` round what goes when a name
    in it is withheld or missing. Else ``roles`` say who is named (empty: everybody credited).
    """

    destination: str
    pattern: str = ""
    roles: tuple[str, ...] = ()
    between: str = " / "
    short: bool = False
    credit_length: int | None = None
    caption_length: int | None = None
    language: str = ""
    keywords: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class JobWords:
    """All of it.

    ``name_people``: names of people shown are written into files as such. ``contact``: the
    photographer's, (part, text). ``source_type``, ``data_mining``: addresses of a term.
    ``keep_master_words``: what nobody says here is taken from the master's own words.
    """

    language: str = ""
    copyright: str = ""
    name_people: bool = False
    credits: tuple[Credit, ...] = ()
    releases: tuple[PersonRelease, ...] = ()
    licences: tuple[LicenceTerms, ...] = ()
    told: tuple[Told, ...] = ()
    manners: tuple[Manner, ...] = ()
    contact: tuple[tuple[str, str], ...] = ()
    source_type: str = ""
    data_mining: str = ""
    keep_master_words: bool = True

    def credited(self, version: str) -> tuple[Credit, ...]:
        """Who had a part in ``version``, in their order."""
        return tuple(sorted(_for(version, self.credits), key=lambda one: one.order))

    def released(self, version: str) -> tuple[PersonRelease, ...]:
        """The releases of the people in ``version``."""
        return tuple(_for(version, self.releases))

    def licence(self, recipient: str) -> LicenceTerms:
        """The recipient's own terms, else everybody's, else none.

        Own terms that name no licensor have everybody's: it is the same photographer to ask.
        """
        by_recipient = {one.recipient: one for one in self.licences}
        usual = by_recipient.get(EVERYBODY, LicenceTerms())
        own = by_recipient.get(recipient, usual) if recipient else usual
        if own.licensor or own.licensor_url:
            return own
        return replace(own, licensor=usual.licensor, licensor_url=usual.licensor_url)

    def manner(self, destination: str) -> Manner:
        """The destination's own manner, else the usual one."""
        own = (one for one in self.manners if one.destination == destination)
        return next(own, Manner(destination=destination))


NO_JOB_WORDS: Final = JobWords()
Scoped = TypeVar("Scoped", Credit, PersonRelease)


def _for(version: str, ones: tuple[Scoped, ...]) -> Iterator[Scoped]:
    return (one for one in ones if not one.versions or version in one.versions)
