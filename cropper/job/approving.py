"""The photographer's word on each deliverable: approved, held or refused, with a note.

A word is given for the very crop that was looked at. When another crop counts later, the word is
kept and shown, but it no longer stands: the deliverable waits for another look.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final

from cropper.errors import MisuseError
from cropper.job.plan import Approval, ChoiceState, PlannedMaster, Word
from cropper.proposal.proposal import Verdict

NOT_APPROVED: Final = "It is not approved yet."
"""Why something is not exported where only what is approved was asked for."""
HELD_FOR_A_PROBLEM: Final = "It has a problem and is not approved."
"""How the reason of such a file begins in the manifest."""
LONGEST_NOTE: Final = 2000
"""A note is cut off nowhere: a longer one is refused (house)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """The word that was given, and whether it still stands for the crop that counts."""

    approval: Approval | None
    stands: bool

    @property
    def approved(self) -> bool:
        """Approved, and nothing has moved since."""
        return self.says(Word.APPROVED)

    def says(self, word: Word) -> bool:
        """Whether this very word stands."""
        return self.stands and self.approval is not None and self.approval.word is word


def standing(master: PlannedMaster, destination: str) -> Standing:
    """What was said of this deliverable, measured against the crop that counts now."""
    approval = master.approvals.get(destination)
    chosen, choice = master.chosen(destination), master.choices.get(destination)
    moved = choice is not None and choice.state is ChoiceState.LOOK_AGAIN
    same = approval is not None and chosen is not None and chosen.crop == approval.crop
    return Standing(approval=approval, stands=same and not moved)


def said(
    master: PlannedMaster, destination: str, word: Word, note: str, now: datetime
) -> PlannedMaster:
    """The master with this word on one deliverable; it settles a choice to be looked at again.

    Raises :class:`MisuseError` where there is no crop to speak of, or the note is too long.
    """
    chosen = master.chosen(destination)
    if chosen is None:
        raise MisuseError(
            f"'{master.version}' has no crop for '{destination}', so there is nothing to judge",
            way_out="Choose or draw one first",
        )
    if len(note) > LONGEST_NOTE:
        raise MisuseError(
            f"the note has {len(note)} characters, and {LONGEST_NOTE} are kept",
            way_out="Say it in fewer words",
        )
    approval = Approval(word=word, crop=chosen.crop, at=now, note=note.strip())
    told = replace(master, approvals={**master.approvals, destination: approval})
    return _seen_again(told, destination)


def _seen_again(master: PlannedMaster, destination: str) -> PlannedMaster:
    """A choice that asked for another look has had it now."""
    choice = master.choices[destination]
    if choice.state is not ChoiceState.LOOK_AGAIN:
        return master
    state = ChoiceState.ADJUSTED if choice.hand is not None else ChoiceState.CHOSEN
    return master.with_choice(destination, replace(choice, state=state))


def unsaid(master: PlannedMaster, destination: str) -> PlannedMaster:
    """The master without a word on this deliverable."""
    kept = {name: one for name, one in master.approvals.items() if name != destination}
    return replace(master, approvals=kept)


def why_withheld(master: PlannedMaster, destination: str, *, approved_only: bool) -> str:
    """Why this deliverable is not exported; empty when it is.

    What was refused never leaves; what is held, or not approved, stays when only approved files
    are asked for.
    """
    now = standing(master, destination)
    note = f" Note: {now.approval.note}" if now.approval and now.approval.note else ""
    if now.says(Word.REFUSED):
        return f"You refused it.{note}"
    if not approved_only or now.approved:
        return ""
    if now.says(Word.HELD):
        return f"You hold it back.{note}"
    if now.approval is not None:
        return f"Its crop changed after you {_did(now.approval.word)} it: it waits for a look."
    return NOT_APPROVED


def looked_at(master: PlannedMaster, destination: str) -> bool:
    """Whether the photographer approved the crop that counts, chose it or drew it."""
    choice = master.choices.get(destination)
    by_hand = choice is not None and choice.by_hand and choice.state is not ChoiceState.LOOK_AGAIN
    return by_hand or standing(master, destination).approved


def why_held(master: PlannedMaster, destination: str) -> str:
    """Why a crop waits for a look although nobody asked for approved ones only; empty if not.

    One that breaks a rule is held until somebody approves it, chooses it or draws it.
    """
    chosen, choice = master.chosen(destination), master.choices.get(destination)
    if chosen is None or choice is None or chosen.verdict is not Verdict.BREAKS:
        return ""
    if looked_at(master, destination):
        return ""
    told = (one.sentence for one in chosen.measures if one.verdict is Verdict.BREAKS)
    return f"{HELD_FOR_A_PROBLEM} {next(told, '')}".strip()


def _did(word: Word) -> str:
    return {Word.APPROVED: "approved", Word.HELD: "held", Word.REFUSED: "refused"}[word]
