"""``JOB/words.toml`` from the disk, checked: every fault at once, with its place and the way out.

Versions and destinations that the job does not know are no faults (the file may be older, or
meant for several jobs); :mod:`wording_remarks` points them out.
"""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final, TypeVar

from pydantic import BaseModel, ValidationError

from cropper.destination import faults
from cropper.destination.reading import listed, shown
from cropper.disk import short
from cropper.errors import PresetError
from cropper.job.credit_lines import roles_in
from cropper.job.job_words import (
    NO_JOB_WORDS,
    ROLE_LABELS,
    Credit,
    JobWords,
    LicenceTerms,
    Manner,
    PersonRelease,
    Told,
)
from cropper.job.putting import reason
from cropper.job.wording_schema import (
    ContactTable,
    CopyrightTable,
    CreditTable,
    DestinationTable,
    JobTable,
    LicenceTable,
    ReleaseTable,
    ToldTable,
    TranslationTable,
)

WORDS_FILE: Final = "words.toml"
LARGEST_BYTES: Final = 4_000_000
"""House: hundreds of versions with long captions are a tenth of this."""
LISTS: Final = {"credit": CreditTable, "release": ReleaseTable, "translation": TranslationTable}
"""Tables written with two brackets, ``[[credit]]``."""
TABLES: Final = {"licence": LicenceTable, "version": ToldTable, "destination": DestinationTable}
"""Tables with a name, ``[version.shawl]``."""
KEYS: Final = (*JobTable.model_fields, "copyright", "contact", *LISTS, *TABLES)

Table = TypeVar("Table", bound=BaseModel)


def read_words(job: Path) -> JobWords:
    """The words of the job in folder ``job``; none when it has no ``words.toml``.

    Raises one :class:`PresetError` (exit 3) that says every fault.
    """
    path = job / WORDS_FILE
    try:
        raw = short(path).read_bytes()
    except FileNotFoundError:
        return NO_JOB_WORDS
    except OSError as error:
        raise PresetError(f"cannot be read ({reason(error)})", where=(str(path),)) from error
    return from_text(raw, file=str(path))


def from_text(raw: bytes, *, file: str = WORDS_FILE) -> JobWords:
    """The words that the bytes of a ``words.toml`` say; ``file`` is its name in messages."""
    try:
        _refuse_large(raw)
        parsed = tomllib.loads(raw.decode("utf-8-sig"))
        return _Reading(parsed).words()
    except PresetError as error:
        raise error.inside(file) from error
    except UnicodeDecodeError as error:
        what = f"is not UTF-8 text (byte {error.start})"
        raise PresetError(what, way_out="Save it as UTF-8", where=(file,)) from error
    except (ValueError, RecursionError) as error:
        what = f"is not TOML: {error}"
        raise PresetError(what, way_out="Mend that line", where=(file,)) from error


def _refuse_large(raw: bytes) -> None:
    if len(raw) > LARGEST_BYTES:
        raise PresetError(f"is larger than {LARGEST_BYTES} bytes", way_out="Shorten its texts")


class _Reading:
    """One file being read, its faults collected."""

    def __init__(self, parsed: Mapping[str, Any]) -> None:
        self.parsed = parsed
        self.faults: list[PresetError] = []

    def words(self) -> JobWords:
        """The whole file, or one error with all its faults."""
        self.faults += [_unknown(key) for key in self.parsed if key not in KEYS]
        own = {key: value for key, value in self.parsed.items() if key in JobTable.model_fields}
        top = self._checked(JobTable, own, ())
        made = JobWords(
            language=(top.language or "") if top else "",
            name_people=top.name_people if top else False,
            copyright=self._copyright(),
            contact=self._contact(),
            source_type=top.source_type if top else "",
            data_mining=top.data_mining if top else "",
            keep_master_words=top.keep_master_words if top else True,
            credits=tuple(_credit(one) for one in self._list("credit", CreditTable)),
            releases=tuple(_release(one) for one in self._list("release", ReleaseTable)),
            licences=tuple(_licence(*one) for one in self._named("licence", LicenceTable)),
            told=self._told(top),
            manners=tuple(_manner(*one) for one in self._named("destination", DestinationTable)),
        )
        self._check_roles(made)
        if self.faults:
            raise faults.all_at_once(self.faults, of="the words")
        return made

    def _checked(self, model: type[Table], table: object, where: tuple[str, ...]) -> Table | None:
        if not isinstance(table, Mapping):
            what = f"{shown(table)} is not a table such as [{'.'.join(where)}]"
            self.faults.append(PresetError(what, where=where))
            return None
        try:
            return model.model_validate(dict(table))
        except ValidationError as error:
            name, *outer = where[::-1] or ("",)
            found = faults.of_validation(error, model, table, name)
            self.faults += [_placed(fault, outer) for fault in found]
            return None

    def _list(self, key: str, model: type[Table]) -> list[Table]:
        value = self.parsed.get(key, [])
        if not isinstance(value, list):
            what = f"is not a list of tables: write [[{key}]] above each of them"
            self.faults.append(PresetError(what, where=(key,)))
            return []
        checked = (self._checked(model, one, (key, str(at))) for at, one in enumerate(value, 1))
        return [one for one in checked if one is not None]

    def _named(self, key: str, model: type[Table]) -> list[tuple[str, Table]]:
        value = self.parsed.get(key, {})
        if not isinstance(value, Mapping):
            what = f"is not a table with a name: write [{key}.NAME] above its lines"
            self.faults.append(PresetError(what, where=(key,)))
            return []
        checked = ((name, self._checked(model, one, (key, name))) for name, one in value.items())
        return [(name, one) for name, one in checked if one is not None]

    def _copyright(self) -> str:
        if "copyright" not in self.parsed:
            return ""
        table = self._checked(CopyrightTable, self.parsed["copyright"], ("copyright",))
        if table is None or table.notice:
            return (table.notice or "") if table else ""
        if table.owner is None:
            what = "owner is missing"
            way_out = "Write owner and year, or a notice as it is to stand"
            self.faults.append(PresetError(what, way_out=way_out, where=("copyright",)))
        return " ".join(str(part) for part in ("©", table.year, table.owner) if part)

    def _contact(self) -> tuple[tuple[str, str], ...]:
        if "contact" not in self.parsed:
            return ()
        table = self._checked(ContactTable, self.parsed["contact"], ("contact",))
        parts = table.model_dump() if table else {}
        return tuple((part, text) for part, text in parts.items() if text)

    def _told(self, top: JobTable | None) -> tuple[Told, ...]:
        own = [_told("", "", top)] if top else []
        versions = [_told(name, "", one) for name, one in self._named("version", ToldTable)]
        others = [
            _told(one.version or "", one.language, one)
            for one in self._list("translation", TranslationTable)
        ]
        return tuple(one for one in (*own, *versions, *others) if one != Told())

    def _check_roles(self, made: JobWords) -> None:
        """A pattern may only name roles that somebody of the job has, or that are usual."""
        known = dict.fromkeys((*(one.role for one in made.credits), *ROLE_LABELS))
        for manner in made.manners:
            for key, roles in (("credit_line", roles_in(manner.pattern)), ("roles", manner.roles)):
                for role in roles:
                    if role not in known:
                        where = ("destination", manner.destination, key)
                        self.faults.append(_no_role(role, tuple(known), where))


def _placed(fault: PresetError, outer: list[str]) -> PresetError:
    for place in outer:
        fault = fault.inside(place)
    return PresetError(fault.what, way_out=fault.way_out, where=tuple(filter(None, fault.where)))


def _unknown(key: str) -> PresetError:
    near = difflib.get_close_matches(key, KEYS, n=1)
    way_out = f"Did you mean {near[0]}?" if near else f"There are {', '.join(KEYS)}"
    return PresetError("is no key of this file", way_out=way_out, where=(key,))


def _no_role(role: str, known: tuple[str, ...], where: tuple[str, ...]) -> PresetError:
    near = difflib.get_close_matches(role, known, n=1) or list(known)
    return PresetError(
        f"nobody is credited as {role!r}",
        way_out=f"Write {listed(near)}, or give somebody that role in a [[credit]]",
        where=where,
    )


def _credit(table: CreditTable) -> Credit:
    return Credit(
        role=table.role,
        name=table.name,
        short=table.short or "",
        order=table.order,
        versions=table.versions,
    )


def _release(table: ReleaseTable) -> PersonRelease:
    return PersonRelease(
        person=table.person,
        status=table.status,
        signed=table.signed,
        until=table.until,
        scope=table.scope or "",
        versions=table.versions,
    )


def _licence(recipient: str, table: LicenceTable) -> LicenceTerms:
    return LicenceTerms(
        recipient=recipient,
        terms=table.terms,
        licensor=table.licensor or "",
        licensor_url=table.licensor_url or "",
        web_statement=table.web_statement or "",
        instructions=table.instructions or "",
        until=table.until,
    )


def _told(version: str, language: str, table: ToldTable | TranslationTable) -> Told:
    return Told(
        version=version,
        language=language,
        headline=table.headline,
        caption=table.caption,
        alt_text=table.alt_text,
        extended_description=table.extended_description,
        taken=table.taken if isinstance(table, ToldTable) else None,
        keywords=table.keywords if isinstance(table, ToldTable) else (),
    )


def _manner(destination: str, table: DestinationTable) -> Manner:
    return Manner(
        destination=destination,
        pattern=table.credit_line or "",
        roles=table.roles,
        between=table.between,
        short=table.short,
        credit_length=table.credit_length,
        caption_length=table.caption_length,
        language=table.language or "",
        keywords=table.keywords,
    )
