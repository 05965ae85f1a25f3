"""Licences as ODRL policies in JSON-LD, and back [W3C Recommendation "ODRL Information Model 2.2"].

Each licence is an *Agreement* of the ODRL core: the outlet may ``display`` the target within a
stretch of ``dateTime``; an exclusive or an embargo is a *prohibition* to everybody else, against
an ``industry``, ``spatial`` (territory) or ``media`` (medium) where it says so. What ODRL has no
word for (what the end means, whose first use it is) stands under our own prefix, in the same
document: readers of the standard may pass over it, and reading back needs it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

from cropper.errors import RecordError
from cropper.publication.licences import Against, Licence, LicenceKind
from cropper.publication.spans import Span
from cropper.record.bodies import body_of, value_of

CONTEXT: Final = "http://www.w3.org/ns/odrl.jsonld"
OWN: Final = "urn:cropper:record:"
EVERYBODY: Final = f"{OWN}everybody"
OPERAND: Final = {
    Against.INDUSTRY: "industry",
    Against.TERRITORY: "spatial",
    Against.MEDIUM: "media",
}
"""Left operands of the ODRL Common Vocabulary."""


def policies(licences: Iterable[Licence]) -> dict[str, Any]:
    """One JSON-LD document with a policy for each licence."""
    return {
        "@context": [CONTEXT, {"record": OWN, "record:terms": {"@type": "@json"}}],
        "@graph": [policy(one) for one in licences],
    }


def policy(licence: Licence) -> dict[str, Any]:
    """One licence as an ODRL Agreement."""
    told: dict[str, Any] = {
        "uid": f"{OWN}licence:{licence.id}",
        "type": "Agreement",
        "record:terms": body_of(licence),
    }
    shown = {"target": _target(licence), "action": "display", "assigner": f"{OWN}photographer"}
    if licence.kind is not LicenceKind.EMBARGO:
        allowed = {**shown, "assignee": _party(licence.outlet)}
        told["permission"] = [_within(allowed, _during(licence.span))]
        told["permission"] += [{**shown, "assignee": _party(one)} for one in licence.exceptions]
    if licence.kind is not LicenceKind.TERM:
        others = {**shown, "assignee": EVERYBODY}
        told["prohibition"] = [_within(others, _during(licence.span) + _against(licence))]
    return told


def read_policies(told: Mapping[str, Any]) -> tuple[Licence, ...]:
    """The licences in a document that :func:`policies` wrote.

    Raises :class:`RecordError` for policies of others: their terms are for people to read first.
    """
    graph = told.get("@graph")
    if not isinstance(graph, list):
        raise RecordError(
            "this is no document of ODRL policies", way_out="Give a JSON-LD file with an @graph"
        )
    found = []
    for number, one in enumerate(graph, 1):
        if not isinstance(one, dict) or "record:terms" not in one:
            raise RecordError(
                f"policy {number} was not written by a record of this kind",
                way_out="Read its terms, and record them: cropper record licence",
            )
        found.append(value_of(Licence, one["record:terms"]))
    return tuple(found)


def _target(licence: Licence) -> str:
    name = f"version:{licence.version}" if licence.version else f"set:{licence.set}"
    return _uri(name)


def _party(outlet: str) -> str:
    return _uri(f"outlet:{outlet}")


def _uri(name: str) -> str:
    from urllib.parse import quote  # noqa: PLC0415 - beside its one use

    return f"{OWN}{quote(name, safe=':')}"


def _within(rule: dict[str, Any], constraints: list[dict[str, Any]]) -> dict[str, Any]:
    return {**rule, "constraint": constraints} if constraints else rule


def _during(span: Span) -> list[dict[str, Any]]:
    """From the start on, and before the end."""
    ends = [("gteq", span.start)] + ([("lt", span.until)] if span.until else [])
    return [
        {
            "leftOperand": "dateTime",
            "operator": operator,
            "rightOperand": {"@value": at.isoformat(), "@type": "xsd:dateTime"},
        }
        for operator, at in ends
    ]


def _against(licence: Licence) -> list[dict[str, Any]]:
    if licence.against is Against.EVERYONE:
        return []
    return [
        {
            "leftOperand": OPERAND[licence.against],
            "operator": "eq",
            "rightOperand": licence.value,
        }
    ]
