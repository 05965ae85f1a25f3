"""The verdicts as the page says them. The JSON keeps its codes; these are only labels."""

from __future__ import annotations

from typing import Final

from cropper.proposal.proposal import Verdict

SAID: Final = {
    Verdict.HOLDS: "good",
    Verdict.BENDS: "fine",
    Verdict.BREAKS: "problem",
    Verdict.UNCERTAIN: "check",
    Verdict.NO_CROP: "no crop",
}
"""Each verdict in one word, beside its shape and its colour."""


def said(verdict: str) -> str:
    """The word for a verdict's code."""
    return SAID[Verdict(verdict)]
