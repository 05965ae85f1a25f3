"""What remarks speak of: the photographer's own tags, each with its list of words.

A remark is looked through word by word, in any language: letters are folded (case, width, ligature)
and words end where Unicode says they do [uax29]. A word that ends in ``*`` stands for everything
that begins with it. This counts words. It understands nothing: "not her eyes", irony and typing
slips are counted, or missed, as they are written.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

from cropper.destination.faults import all_at_once
from cropper.errors import PresetError
from cropper.publication.responses import Remark

if TYPE_CHECKING:
    import regex

TAGS_FILE: Final = "tags.toml"
WORD_KEYS: Final = ("tags", "intent")
LONGEST_WORD: Final = 80
"""House value: a "word" longer than this is a sentence, and was not meant as one."""

STARTER: Final = """\
# tags.toml: what people may speak of in their remarks, and the words they use for it.
#
# Add words of any language; case does not matter. A word matches as a whole; with a star at its
# end it stands for everything that begins so: "smil*" finds smile, smiles, smiling.
# Words are counted, not understood: "not her eyes" counts as eyes.

[tags]
eyes = ["eye", "eyes", "gaze", "look in her eyes", "Auge", "Augen", "Blick", "👀"]
expression = ["expression", "smil*", "mood", "calm", "Ausdruck", "lächel*"]
light = ["light*", "glow*", "copper", "shadow*", "Licht*"]
styling = ["styling", "makeup", "make-up", "hair*", "lips*", "Haar*"]
garment = ["knit*", "wool*", "shawl", "jumper", "sweater", "collar", "Strick*", "Wolle"]
framing = ["crop*", "close-up", "cut off", "too close", "Ausschnitt"]

# What each version was meant to show first, noted before it goes out; tags in order of weight.
# It is copied, with the time, into a question when the question is declared.
[intent]
# hooded-shawl = ["eyes", "light"]
# roll-neck = ["garment", "eyes"]
"""
"""A commented ``tags.toml`` to start from."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TagList:
    """Tags in the photographer's order with their words, and what each version is meant to show."""

    words: Mapping[str, tuple[str, ...]]
    intents: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: MappingProxyType({}))

    @classmethod
    def from_mapping(cls, data: Mapping[str, object], *, file: str = TAGS_FILE) -> TagList:
        """Check a parsed ``tags.toml``; raise one :class:`PresetError` that names every fault."""
        faults = [_unknown(word) for word in data if word not in WORD_KEYS]
        words = _lists(data, "tags", faults)
        intents = _lists(data, "intent", faults)
        faults += [
            PresetError(f"there is no tag '{tag}'", way_out=f"Tags: {', '.join(words)}")
            .inside(version)
            .inside("intent")
            for version, meant in intents.items()
            for tag in meant
            if tag not in words
        ]
        if not words and not faults:
            way_out = 'Write [tags] and below it, say, eyes = ["eye", "eyes"]'
            faults.append(PresetError("it holds no tags", way_out=way_out))
        if faults:
            raise all_at_once([fault.inside(file) for fault in faults], of=file)
        return cls(words=MappingProxyType(words), intents=MappingProxyType(intents))


@dataclass(frozen=True)  # no slots: the patterns are made once and kept
class Tagger:
    """Finds which tags a remark speaks of."""

    tags: TagList

    @cached_property
    def _patterns(self) -> tuple[tuple[str, regex.Pattern[str]], ...]:
        return tuple((tag, _pattern(words)) for tag, words in self.tags.words.items())

    def seen_in(self, text: str) -> frozenset[str]:
        """The tags whose words stand in ``text``.

        >>> light = TagList(words={"light": ("glow*", "Licht")})
        >>> [bool(Tagger(light).seen_in(said)) for said in ("So GLOWING!", "das Licht", "Lichtung")]
        [True, True, False]
        """
        folded = fold(text)
        return frozenset(tag for tag, pattern in self._patterns if pattern.search(folded))


@dataclass(frozen=True, slots=True, kw_only=True)
class Sightings:
    """How many of the ``remarks`` under a version speak of each tag.

    ``alone``: (tag, other) to remarks that speak of the first and not of the second; empty when
    mentions were counted by hand. ``untagged``: remarks that speak of none.
    """

    version: str
    remarks: int
    mentions: Mapping[str, int]
    alone: Mapping[tuple[str, str], int] = field(default_factory=lambda: MappingProxyType({}))
    untagged: int = 0


def sightings(remarks: Iterable[Remark], tags: TagList) -> tuple[Sightings, ...]:
    """Count tags under each version, in one pass that holds no remark; versions by name."""
    tagger = Tagger(tags)
    names = tuple(tags.words)
    combined: dict[str, dict[frozenset[str], int]] = {}
    for one in remarks:
        mine = combined.setdefault(one.version, {})
        seen = tagger.seen_in(one.text)
        mine[seen] = mine.get(seen, 0) + 1
    return tuple(_sightings(version, combined[version], names) for version in sorted(combined))


def _sightings(
    version: str, combined: Mapping[frozenset[str], int], names: tuple[str, ...]
) -> Sightings:
    """From how often each combination of tags came up: bounded by tags, not by remarks."""

    def add(*, having: str, lacking: str | None = None) -> int:
        return sum(n for seen, n in combined.items() if having in seen and lacking not in seen)

    return Sightings(
        version=version,
        remarks=sum(combined.values()),
        mentions=MappingProxyType({tag: add(having=tag) for tag in names}),
        alone=MappingProxyType(
            {
                (tag, other): add(having=tag, lacking=other)
                for tag in names
                for other in names
                if tag != other
            }
        ),
        untagged=combined.get(frozenset(), 0),
    )


def fold(text: str) -> str:
    """Text as words are compared: compatibility-composed, case folded, plain apostrophes.

    >>> fold("LÄCHELN Straße’s ❤️") == fold("lächeln strasse's ❤")
    True
    """
    plain = text.translate(_PLAIN)
    return unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", plain).casefold())


_PLAIN: Final[dict[int, str | None]] = {
    **dict.fromkeys((0x2010, 0x2011), "-"),
    **dict.fromkeys((0x2018, 0x2019), "'"),
    **dict.fromkeys((0xFE0E, 0xFE0F, 0x200D, 0x00AD), None),
}
"""Hyphens and curly apostrophes; marks that only style an emoji; joiners; soft hyphens."""


def _pattern(words: tuple[str, ...]) -> Any:
    """One pattern for all words of a tag, with Unicode's word boundaries around them."""
    import regex  # noqa: PLC0415 - only counting pays for it

    each = sorted((_one(word) for word in words), key=len, reverse=True)
    return regex.compile(rf"(?w)\b(?:{'|'.join(each)})", regex.VERSION1)


def _one(word: str) -> str:
    import regex  # noqa: PLC0415 - as above

    open_ended = word.endswith("*")
    parts = fold(word.removesuffix("*")).split()
    return r"\s+".join(regex.escape(part) for part in parts) + ("" if open_ended else r"\b")


def _lists(
    data: Mapping[str, object], table: str, faults: list[PresetError]
) -> dict[str, tuple[str, ...]]:
    """A table of names, each with a list of words."""
    value = data.get(table, {})
    if not isinstance(value, Mapping):
        way_out = f"Write [{table}] on its own line"
        faults.append(PresetError(f"{value!r} is not a table", way_out=way_out).inside(table))
        return {}
    read: dict[str, tuple[str, ...]] = {}
    for name, listed in value.items():
        fault = _list_fault(listed)
        if fault is None:
            read[str(name)] = tuple(dict.fromkeys(word.strip() for word in listed))
        else:
            faults.append(fault.inside(str(name)).inside(table))
    return read


def _list_fault(listed: object) -> PresetError | None:
    way_out = 'Write a list in quotes: ["eye", "eyes", "gaze"]'
    if not isinstance(listed, list) or not listed:
        return PresetError(f"{listed!r} is not a list of words", way_out=way_out)
    for word in listed:
        if not isinstance(word, str) or not fold(word).strip("* \t\n"):
            return PresetError(f"{word!r} is not a word", way_out=way_out)
        if len(word) > LONGEST_WORD:
            return PresetError(
                f"{word[:30] + '...'!r} is too long to be looked for", way_out="Shorten it"
            )
    return None


def _unknown(word: str) -> PresetError:
    return PresetError(
        f"'{word}' is not known here", way_out=f"Known: {', '.join(WORD_KEYS)}", where=(word,)
    )
