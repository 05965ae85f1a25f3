"""One measure written down: the rule's card, its value beside target and limit, and a sentence."""

from __future__ import annotations

from cropper.proposal import house
from cropper.proposal.proposal import Measure, Verdict
from cropper.proposal.reasons import sentence_of
from cropper.proposal.scene import Scene, finite


def gauged(
    scene: Scene,
    rule: str,
    *,
    value: float,
    unit: str,
    target: tuple[float | None, float | None],
    limit: tuple[float | None, float | None] | None,
    uncertainty: float,
    verdict: Verdict,
    excess: float,
    tier: str = "",
    sentence: str = "",
) -> Measure:
    """The measure of ``rule``; open ends of bands are None, its sentence made unless given."""
    card = house.CARDS[rule]
    return Measure(
        rule=rule,
        tier=tier or rule,
        title=card.title,
        value=value,
        unit=unit,
        target=_open_ends(target),
        limit=_open_ends(limit) if limit else None,
        uncertainty=uncertainty,
        verdict=verdict,
        excess=excess,
        weight=card.weight,
        source=card.source,
        sentence=sentence or sentence_of(scene, rule, value, target, verdict),
    )


def _open_ends(
    band: tuple[float | None, float | None],
) -> tuple[float | None, float | None]:
    least, most = band
    return (
        None if least is None else finite(least),
        None if most is None else finite(most),
    )
