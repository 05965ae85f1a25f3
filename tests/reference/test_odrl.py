"""Licences as ODRL: read as RDF by rdflib, judged by its vocabulary and the W3C's own rules.

The vocabulary is rdflib's closed namespace ODRL2 (made from the W3C's ODRL22.ttl, 2020). The shapes
are those of the ODRL Information Model 2.2 [W3C Recommendation, 15 February 2018]: a policy has an
IRI and at least one rule; in an Agreement every rule has an assigner and an assignee; a permission
or prohibition has one target and one action; a constraint has one left operand, one operator and a
right operand. The W3C's JSON-LD context lies on the network; the lines of it that we use stand
below from memory (`xsd`, `uid` and `type` were seen in a stored copy's list of names).
"""

from __future__ import annotations

import json
from datetime import UTC, datetime

import pytest
from rdflib import RDF, XSD, Graph, Literal, URIRef
from rdflib.namespace import ODRL2

from cropper.publication.licences import Against, Licence, LicenceKind
from cropper.publication.spans import Span
from cropper.record.odrl import CONTEXT, policies

pytestmark = pytest.mark.filterwarnings(  # rdflib's own JSON-LD reader still uses the class
    "ignore:ConjunctiveGraph is deprecated:DeprecationWarning"
)

WORD = {"@type": "@vocab"}
NODE = {"@type": "@id"}
USED_OF_W3C = {
    "@vocab": str(ODRL2),
    "xsd": str(XSD),
    "uid": "@id",
    "type": "@type",
    "target": NODE,
    "assigner": NODE,
    "assignee": NODE,
    "action": WORD,
    "leftOperand": WORD,
    "operator": WORD,
}
FROM = datetime(2026, 3, 1, tzinfo=UTC)
UNTIL = datetime(2026, 5, 1, tzinfo=UTC)


def read(kind: LicenceKind, against: Against) -> Graph:
    value = "" if against is Against.EVERYONE else "knitwear"
    licence = Licence(
        id="deal-1",
        kind=kind,
        span=Span(FROM, UNTIL),
        outlet="spring issue",
        set="shawl",
        against=against,
        value=value,
        exceptions=("my-pages",),
    )
    told = policies([licence])
    assert told["@context"][0] == CONTEXT == "http://www.w3.org/ns/odrl.jsonld"
    told["@context"][0] = USED_OF_W3C
    graph = Graph()
    graph.parse(data=json.dumps(told), format="json-ld")
    return graph


EACH = pytest.mark.parametrize(
    ("kind", "against"),
    [
        (kind, against)
        for kind in LicenceKind
        for against in (Against if kind is LicenceKind.EXCLUSIVE else [Against.EVERYONE])
    ],
)


@EACH
def test_every_word_is_one_of_the_vocabulary(kind: LicenceKind, against: Against) -> None:
    words = {
        str(one).removeprefix(str(ODRL2))
        for triple in read(kind, against)
        for one in triple
        if isinstance(one, URIRef) and one.startswith(str(ODRL2))
    }
    assert {"Agreement", "display", "dateTime"} <= words
    assert not [word for word in words if word not in ODRL2]


@EACH
def test_every_rule_and_constraint_has_the_parts_it_must(
    kind: LicenceKind, against: Against
) -> None:
    graph = read(kind, against)
    (policy,) = graph.subjects(RDF.type, ODRL2.Agreement)
    assert isinstance(policy, URIRef)
    rules = [*graph.objects(policy, ODRL2.permission), *graph.objects(policy, ODRL2.prohibition)]
    assert rules
    for rule in rules:
        for part in (ODRL2.target, ODRL2.action, ODRL2.assigner, ODRL2.assignee):
            assert len(list(graph.objects(rule, part))) == 1
    constraints = [one for rule in rules for one in graph.objects(rule, ODRL2.constraint)]
    assert constraints
    for constraint in constraints:
        for part in (ODRL2.leftOperand, ODRL2.operator, ODRL2.rightOperand):
            assert len(list(graph.objects(constraint, part))) == 1


def test_the_stretch_of_a_term_is_from_its_start_up_to_its_end() -> None:
    graph = read(LicenceKind.TERM, Against.EVERYONE)
    limits = {
        (graph.value(one, ODRL2.operator), graph.value(one, ODRL2.rightOperand))
        for one in graph.subjects(ODRL2.leftOperand, ODRL2.dateTime)
    }
    assert limits == {
        (ODRL2.gteq, Literal(FROM.isoformat(), datatype=XSD.dateTime)),
        (ODRL2.lt, Literal(UNTIL.isoformat(), datatype=XSD.dateTime)),
    }
