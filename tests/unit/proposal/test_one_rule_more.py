"""One rule more: a module put beside the others is all that a rule needs.

The planner, the verdict, the reasons and the measures all see it; without it nothing has changed.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path

import pytest

from cropper.geometry import Crop
from cropper.proposal import composing, reasons, rules
from cropper.proposal.measuring import measure
from cropper.proposal.planning import propose
from cropper.proposal.proposal import Verdict
from tests.unit.proposal.people import destination, found, person

MODULE = '''
"""Heads stand in the left half: a rule of this test alone."""

from cropper.proposal.rules.rule import Axis, Rule, first, over


def _excess(look):
    return over(look.eyes_across - 0.25) / 0.05


RULES = (
    Rule(
        name="left half",
        title="Eyes far to the left",
        source="this test",
        axis=Axis.ACROSS,
        weight=3.0,
        excess=_excess,
        value=lambda look: first(look.eyes_across),
        unit="of the width",
        words=lambda look, value: f"Eyes {value:.2f} across, and this test wants .25.",
    ),
)
'''
MASTER = found(4500, 3000, person(2250, 1200, 600))
POST = destination("4/5")


@pytest.fixture
def one_more(tmp_path: Path) -> Callable[[], AbstractContextManager[None]]:
    """Puts the module beside the others, and takes it out again."""
    (tmp_path / "left_half.py").write_text(MODULE, encoding="utf-8")

    @contextmanager
    def beside() -> Iterator[None]:
        with pytest.MonkeyPatch.context() as patched:
            patched.setattr(rules, "__path__", [*rules.__path__, str(tmp_path)])
            every = rules._all_rules()  # as the next start of the program reads them
            for module in (rules, composing, reasons):
                patched.setattr(module, "RULES", every)
            yield
        sys.modules.pop("cropper.proposal.rules.left_half", None)
        vars(rules).pop("left_half", None)

    return beside


def test_a_rule_is_one_record_in_one_module_and_goes_with_it(
    one_more: Callable[[], AbstractContextManager[None]],
) -> None:
    before = propose(MASTER, POST)
    assert before.best is not None
    box = before.best.crop.box
    assert (2250 - box.x0) / box.width == pytest.approx(0.5, abs=0.001)

    with one_more():
        planned = propose(MASTER, POST).best
        told = measure(MASTER, POST, Crop(box))
    assert planned is not None
    moved = planned.crop.box
    assert (2250 - moved.x0) / moved.width < 0.3
    rule = next(one for one in told.measures if one.rule == "left half")
    assert (rule.verdict, told.verdict) == (Verdict.BENDS, Verdict.BENDS)
    assert rule.cost == pytest.approx(3 * 6)
    assert told.cost == pytest.approx(before.best.cost + rule.cost)
    assert "Eyes 0.50 across, and this test wants .25." in told.reasons

    assert propose(MASTER, POST) == before
    assert "left half" not in {one.name for one in rules._all_rules()}


def test_the_list_holds_every_record_of_every_module() -> None:
    assert rules._all_rules() == rules.RULES
