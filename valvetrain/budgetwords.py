"""What is said of a height's uncertainty: where most of it comes from, and what would settle an undecided verdict."""

from builds.uncertainty import plus_minus
from builds.verdicts import UNDECIDED
from valvetrain.budgets import HeightBudget, Offer
from valvetrain.packwords import amount
from valvetrain.valvestate import ValveState


def most_of_it(valve: ValveState) -> str:
    """Where most of the doubt comes from: most from the gap over the shaft (FE-1): 61 %."""
    if valve.budget is None or valve.budget.most is None:
        return ""
    source, share = valve.budget.most
    tool = f" ({source.known.name})" if source.known is not None else ""
    return f"most from the {source.name}{tool}: {share:.0f} %"


def offer_words(offer: Offer, unit: str) -> str:
    """What somebody may do to know it better, and what U that leaves."""
    return f"{offer.act}: {plus_minus(offer.expanded, unit)}."


def settle_lines(valve: ValveState, unit: str) -> list[str]:
    """What would settle an undecided height: where its doubt comes from, and the best that a better tool would do."""
    budget = valve.budget
    if budget is None:
        return []
    lines = [f"The doubt at {valve.address} comes {most_of_it(valve)}."]
    if valve.too_coarse:
        lines.append(
            "The limits lie closer than these tools can tell: no height could be proved in with them. A better tool, or "
            "a wider limit, is needed."
        )
    best = next(iter(_settling(valve, budget)), None)
    if best is not None:
        lines.append(f"{offer_words(best, unit)} With the same height that settles it.")
    elif budget.offers:
        lines.append(offer_words(budget.offers[0], unit))
    if not valve.too_coarse:
        lines.append(_room(valve, budget, unit))
    return lines


def _room(valve: ValveState, budget: HeightBudget, unit: str) -> str:
    """How near to right a height must come to be in with these tools."""
    ends = [abs(end) for end in (valve.tolerance.low, valve.tolerance.high) if end is not None]
    room = amount(max(min(ends) - budget.expanded, 0.0), unit)
    return f"With these tools it is in once it stands within {room} of right: the limit less the uncertainty."


def _settling(valve: ValveState, budget: HeightBudget) -> list[Offer]:
    """The offers after which the same height would no longer be undecided."""
    limit, rule = valve.tolerance, valve.rule
    return [
        offer
        for offer in budget.offers
        if rule.judge(valve.height_error, limit.low, limit.high, offer.expanded / rule.coverage) != UNDECIDED
    ]
