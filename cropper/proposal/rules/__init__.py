"""The rules of a crop, one module each; :data:`RULES` is the list that everything reads."""

from __future__ import annotations

from importlib import import_module
from pkgutil import iter_modules
from typing import Final

from cropper.proposal.rules.rule import Axis, Rule

__all__ = ["RULES", "Axis", "Rule", "rule_named"]


def _all_rules() -> tuple[Rule, ...]:
    """Every record of every module here: hard rules first, then by weight, then by name."""
    modules = (import_module(f"{__name__}.{one.name}") for one in iter_modules(__path__))
    found = [rule for module in modules for rule in getattr(module, "RULES", ())]
    return tuple(sorted(found, key=lambda rule: (not rule.hard, -rule.weight, rule.name)))


RULES: Final = _all_rules()


def rule_named(name: str) -> Rule:
    """The rule of that name; raises KeyError when there is none."""
    for rule in RULES:
        if rule.name == name:
            return rule
    raise KeyError(name)
