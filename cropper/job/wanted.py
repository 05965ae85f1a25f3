"""Which files an export owes: one per planned crop, less what a set gives to a rival."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import PurePath

from cropper.deliverable.manifest import NotDelivered
from cropper.destination.destination import Destination
from cropper.errors import MisuseError
from cropper.job.approving import looked_at, why_held, why_withheld
from cropper.job.plan import Choice, Plan, PlannedMaster
from cropper.job.rows import question_of
from cropper.proposal.filling import filled_as
from cropper.proposal.proposal import Proposal, Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One file to be made. ``problem``: its crop breaks a rule, and nobody has approved it.

    ``question``: what the finder asks about its master, until somebody looked at this crop.
    """

    master: PlannedMaster
    destination: Destination
    proposal: Proposal
    choice: Choice
    set_name: str | None
    outlet: str | None
    problem: bool = False
    question: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Owed:
    """What is to be made, and what is not, with reasons. ``clash``: a set could not be assigned."""

    items: tuple[Item, ...] = ()
    not_delivered: tuple[NotDelivered, ...] = ()
    clash: bool = field(default=False)


def owed(
    plan: Plan,
    *,
    everything: bool = False,
    only: Collection[str] = (),
    approved_only: bool = False,
    with_problems: bool = True,
) -> Owed:
    """The files of a plan. ``everything``: rivals too; ``only``: these destinations.

    What the photographer refused is never owed; with ``approved_only`` nothing else is owed than
    what stands approved, and without ``with_problems`` no crop that breaks a rule unseen.

    Raises :class:`MisuseError` for a destination that the job does not know.
    """
    items: list[Item] = []
    missing: list[NotDelivered] = []
    for one in owing(
        plan,
        everything=everything,
        only=only,
        approved_only=approved_only,
        with_problems=with_problems,
    ):
        if isinstance(one, Item):
            items.append(one)
        else:
            missing.append(one)
    return Owed(
        items=tuple(items),
        not_delivered=tuple(missing),
        clash=clashing(plan, everything=everything),
    )


def owing(
    plan: Plan,
    *,
    everything: bool = False,
    only: Collection[str] = (),
    approved_only: bool = False,
    with_problems: bool = True,
    accept_low_ppi: bool = True,
) -> Iterator[Item | NotDelivered]:
    """The same one by one, in the plan's order, so that no more than one master is in memory."""
    only = destinations_meant(plan, only)
    for master in plan.masters:
        lean = _lean(master)
        for answer in master.answers:
            if only and answer.destination not in only:
                continue
            one = _item(plan, master, answer.destination, everything=everything)
            if isinstance(one, Item):
                why = why_withheld(master, answer.destination, approved_only=approved_only)
                problem = why_held(master, answer.destination)
                low_ppi = short_of_ppi(one)
                may_leave = accept_low_ppi if low_ppi else with_problems
                why = why or ("" if may_leave else problem)
                one = (
                    _missing(plan, master, answer.destination, why)
                    if why
                    else replace(one, problem=bool(problem), question=_question(one))
                )
            yield replace(one, master=lean) if isinstance(one, Item) else one
    yield from (_never_opened(one.file, one.sentence) for one in plan.failed)


def clashing(plan: Plan, *, everything: bool) -> bool:
    """Whether a set could not be assigned."""
    return not everything and any(one.versions and not one.assigned for one in plan.sets)


def _question(one: Item) -> str:
    return "" if looked_at(one.master, one.destination.name) else question_of(one.master)


def _lean(master: PlannedMaster) -> PlannedMaster:
    """The master without the proposals that were passed over."""
    return replace(master, answers=(), choices={}, approvals={}, basis={})


def destinations_meant(plan: Plan, only: Collection[str]) -> tuple[str, ...]:
    """The destinations of the job that these names mean: its own, its groups, its recipients.

    Raises :class:`MisuseError` for a name that is none of them.
    """
    means: dict[str, list[str]] = {}
    for one in plan.destinations:
        for name in (one.name, *one.groups, *([one.recipient] if one.recipient else [])):
            means.setdefault(name, []).append(one.name)
    for name in only:
        if name not in means:
            raise MisuseError(
                f"the job has no destination, group or recipient '{name}'",
                way_out=f"It has {', '.join(means) or 'none'}",
            )
    return tuple(dict.fromkeys(one for name in only for one in means[name]))


def _item(plan: Plan, master: PlannedMaster, name: str, *, everything: bool) -> Item | NotDelivered:
    rivals = plan.set_of(master.version)
    destination, proposal = plan.destination(name), master.chosen(name)
    choice = master.choices.get(name)
    if destination is None or proposal is None or choice is None:
        return _missing(plan, master, name, _why_no_crop(master, name))
    if rivals is not None and not everything:
        given = rivals.best.get(name)
        if not rivals.assigned:
            clash = " ".join(rivals.sentences) or "its set is not assigned."
            return _missing(plan, master, name, clash)
        if given != master.version:
            return _missing(plan, master, name, _why_rival(rivals.name, name, given))
    outlets = plan.outlets.get(name, ())
    return Item(
        master=master,
        destination=delivered_as(destination, proposal),
        proposal=proposal,
        choice=choice,
        set_name=rivals.name if rivals else None,
        outlet=", ".join(outlets) or None,
    )


def delivered_as(destination: Destination, proposal: Proposal) -> Destination:
    """The destination as it delivers this crop: with its fill, and enlarged where it must be."""
    return enlarged_as(filled_as(destination, proposal), proposal)


def short_of_ppi(one: Item) -> bool:
    """Whether a crop has fewer pixels than the ppi that its printer demands."""
    if one.destination.least_ppi is None:
        return False
    return any(
        rule.rule == "pixels" and rule.verdict is Verdict.BREAKS for rule in one.proposal.measures
    )


def enlarged_as(destination: Destination, proposal: Proposal) -> Destination:
    """The destination with the enlargement that this very crop needs.

    Whether it may leave was decided before: a few pixels are fine, more are held until accepted.
    """
    if destination.delivered is None:
        return destination
    needed = Fraction(proposal.delivered.width, proposal.crop.box.width)
    most = max(destination.greatest_enlargement, needed)
    return replace(destination, greatest_enlargement=most)


def _why_no_crop(master: PlannedMaster, name: str) -> str:
    answer = master.answer(name)
    if answer is not None and answer.no_crop is not None:
        return answer.no_crop.sentence
    return "No crop is chosen for it."


def _why_rival(set_name: str, destination: str, given: str | None) -> str:
    if given is None:
        return f"No version of the set '{set_name}' goes to '{destination}'."
    return f"Of the set '{set_name}', the version '{given}' goes to '{destination}'."


def _missing(plan: Plan, master: PlannedMaster, name: str, why: str) -> NotDelivered:
    rivals = plan.set_of(master.version)
    return NotDelivered(
        destination=name,
        set=rivals.name if rivals else None,
        version=master.version,
        master=PurePath(master.file).name,
        reason=why,
    )


def failed(item: Item, why: str) -> NotDelivered:
    """An item that could not be made after all."""
    return NotDelivered(
        destination=item.destination.name,
        set=item.set_name,
        version=item.master.version,
        master=PurePath(item.master.file).name,
        reason=why,
    )


def _never_opened(file: str, why: str) -> NotDelivered:
    return NotDelivered(
        destination=None, set=None, version=None, master=PurePath(file).name, reason=why
    )
