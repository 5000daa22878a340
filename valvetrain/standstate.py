"""How a stand stands: its valves, its pack, what to do next. Nothing here asks the database."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property
from math import cos, radians

from builds.verdicts import IN, OUT, UNDECIDED
from valvetrain.drawer_count import InDrawer, pieces_in, within_reach
from valvetrain.gathering import LimitValue
from valvetrain.geometry.engagement import EngagementVerdict, engagement_verdict
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.packs import PackChoice, Piece, StandNeed, choose_packs
from valvetrain.models import FittedPack, Pad, Stand
from valvetrain.status import LEAST_FINISHED_FIRST, Status
from valvetrain.valvestate import ROUNDING, ValveState, plain_limit

# Fewer shims are worth this much height [in]: less than a feeler can tell.
CLOSE_ENOUGH = 0.0005


def along_the_stand(places: Sequence[float], packs: Sequence[float], at: float) -> float:
    """Pack [in] at a place along a stand: on the line between the two pads beside it, or on along the last two.

    >>> along_the_stand([0.0, 2.0], [0.010, 0.014], 1.5)
    0.013
    """
    known = sorted(zip(places, packs, strict=True))
    if len(known) == 1:
        return known[0][1]
    right = next((n for n in range(1, len(known) - 1) if known[n][0] >= at), len(known) - 1)
    (left_at, left), (right_at, pack) = known[right - 1], known[right]
    if right_at == left_at:
        return max(left, pack)
    return left + (pack - left) * (at - left_at) / (right_at - left_at)


@dataclass
class StandState:
    """One stand with its valves, its pack, and what to do next. Lengths in inches."""

    stand: Stand
    valves: list[ValveState]
    packs: list[FittedPack]
    tolerance: LimitValue
    multiples: dict[str, float]
    shims: list[InDrawer]

    @property
    def address(self) -> str:
        """The stand's printed address."""
        return self.stand.address

    @property
    def pack(self) -> FittedPack | None:
        """The pack in place; None before anything was fitted."""
        return self.packs[-1] if self.packs else None

    @property
    def pack_total(self) -> float:
        """Thickness under each pad, as measured or as its pieces say; under the thickest where the pads differ."""
        return float(self.pack.total()) if self.pack else 0.0

    @property
    def told_total(self) -> float:
        """The total as it is written behind a pack's pieces: none where each pad has its own."""
        return 0.0 if self.pack is not None and self.pack.differs else self.pack_total

    @property
    def pads(self) -> list[Pad]:
        """Its pads, along the stand."""
        return list(self.stand.pads.all())

    @property
    def pad_count(self) -> int:
        """How many pads get a pack: a stand whose pads are not entered has one."""
        return max(1, len(self.pads))

    @property
    def pad_packs(self) -> list[float]:
        """Thickness under each pad, in the order of the pads."""
        if self.pack is None:
            return [0.0] * self.pad_count
        return [float(self.pack.total(pad.pk)) for pad in self.pads] or [self.pack_total]

    @property
    def pack_at_valves(self) -> list[float]:
        """Thickness of the pack where each valve is: the same for all, unless the pads differ."""
        if self.pack is None or not self.pack.differs:
            return [self.pack_total for _ in self.valves]
        places = [float(pad.along) for pad in self.pads]
        return [along_the_stand(places, self.pad_packs, float(valve.valve.along)) for valve in self.valves]

    @cached_property
    def own_pieces(self) -> Counter[Decimal]:
        """The pieces under this stand now, all its pads together: a new pack may use them again."""
        return pieces_in(self.pack, self.pad_count)

    @cached_property
    def reach(self) -> list[InDrawer]:
        """What a new pack for this stand may be made of: the drawer, and what lies under the stand."""
        return within_reach(self.shims, self.own_pieces)

    @property
    def pack_id(self) -> str:
        """What the readings of this set name as their pack."""
        return str(self.pack.client_id) if self.pack else ""

    @property
    def all_read(self) -> bool:
        """Whether every valve has a height in this set and a target."""
        return bool(self.valves) and all(valve.height_error is not None for valve in self.valves)

    @cached_property
    def status(self) -> Status:
        """How the stand stands: as its valves do, the least finished first."""
        fitted = self.pack is not None
        found = {valve.status(fitted=fitted) for valve in self.valves}
        if not found:
            return Status.WAIT
        for status in LEAST_FINISHED_FIRST:
            if status in found:
                return status
        return Status.DONE

    @property
    def changed(self) -> list[str]:
        """Why this stand needs another look, one sentence for each reason."""
        return [sentence for valve in self.valves for sentence in valve.changed]

    @property
    def next_valve(self) -> ValveState | None:
        """The valve to read next on this stand."""
        return next((valve for valve in self.valves if not valve.problem and not valve.reads), None)

    @cached_property
    def beyond_shims(self) -> str:
        """Why no pack can serve, whatever the drawer holds: "lower" or "tips"; empty where one might."""
        errors = [valve.height_error for valve in self.valves if valve.height_error is not None]
        low, high = self.tolerance.low, self.tolerance.high
        if not errors or len(errors) < len(self.valves) or low is None or high is None:
            return ""
        if max(errors) - min(errors) > high - low + ROUNDING:
            return "tips"
        along_axis = cos(radians(float(self.stand.pad_tilt)))
        without = max(errors) - self.pack_total * along_axis
        return "lower" if without > high + ROUNDING else ""

    @property
    def needed_packs(self) -> list[float]:
        """What each valve would have the pack be, along the valve's axis: what is there now, and its rise."""
        along_axis = cos(radians(float(self.stand.pad_tilt)))
        return [
            (valve.rise or 0.0) + pack * along_axis
            for valve, pack in zip(self.valves, self.pack_at_valves, strict=True)
        ]

    @cached_property
    def proved_within(self) -> float | None:
        """Height error [in] either way at which its least known valve is still in by the shop's rule; None: at none."""
        rules = [valve.rule for valve in self.valves if valve.rule.guard_band]
        if not rules:
            return plain_limit(self.tolerance)
        budgets = [valve.budget for valve in self.valves]
        known = [budget.standard for budget in budgets if budget is not None]
        least = max(known, default=None) if len(known) == len(budgets) else None
        return rules[0].proved_within(plain_limit(self.tolerance), least)

    def aim(self, needs: Sequence[float]) -> float:
        """Height error [in] that one pack may leave: what can be proved in, or the plain limit where no pack could."""
        proved = self.proved_within
        if proved is None or (max(needs) - min(needs)) / 2 > proved + ROUNDING:
            return plain_limit(self.tolerance)
        return proved

    def verdict_left(self, residuals: Sequence[float]) -> str:
        """The heaviest verdict of its valves where a pack leaves these height errors [in]."""
        found = {
            valve.judge(left, valve.tolerance, valve.budget if valve.rule.guard_band else None)
            for valve, left in zip(self.valves, residuals, strict=True)
        }
        return next((verdict for verdict in (OUT, UNDECIDED, IN) if verdict in found), "")

    @cached_property
    def choice(self) -> PackChoice | None:
        """The pack that makes the worst valve least wrong, from the drawer; None until every valve is read."""
        return self._choose(self.needed_packs) if self.all_read else None

    @cached_property
    def choice_for_most(self) -> PackChoice | None:
        """Where no pack serves all valves: the pack for the group that one can serve; None without a majority."""
        low, high = self.tolerance.low, self.tolerance.high
        if not self.all_read or low is None or high is None:
            return None
        needs = sorted(self.needed_packs)
        groups = [[each for each in needs if 0 <= each - first <= high - low + ROUNDING] for first in needs]
        most = max(groups, key=len)
        return self._choose(most) if 2 * len(most) > len(needs) else None

    def _choose(self, needs: Sequence[float]) -> PackChoice:
        need = StandNeed(
            name=self.address, rises=list(needs), pads=self.pad_count, pad_tilt=float(self.stand.pad_tilt)
        )
        stock = [Piece(float(piece.thickness), piece.count) for piece in self.reach]
        return choose_packs([need], stock, tolerance=self.aim(needs), close_enough=CLOSE_ENOUGH)[0]

    def left_over(self, choice: PackChoice) -> list[float]:
        """What a pack leaves at each valve; positive: high."""
        along_axis = cos(radians(float(self.stand.pad_tilt)))
        return [choice.thickness * along_axis - need for need in self.needed_packs]

    def engagement(self, pack: float) -> EngagementVerdict | None:
        """Thread engagement with a pack [in] under each pad; None where the bolt's sizes do not make sense."""
        stand = self.stand
        try:
            return engagement_verdict(
                bolt_length=float(stand.bolt_length),
                washer=float(stand.washer_thickness),
                stand_thickness=float(stand.thickness_at_bolt),
                pack=pack,
                tapped_depth=float(stand.tapped_depth),
                bolt_diameter=float(stand.bolt_diameter),
                material=stand.head.material,
                multiples=self.multiples,
            )
        except GeometryError:
            return None

    def engagement_under(self, packs: Sequence[float]) -> EngagementVerdict | None:
        """Thread engagement with each pad's own pack [in]: the least thread of any, and the furthest past it."""
        least, most = self.engagement(max(packs)), self.engagement(min(packs))
        if least is None or most is None:
            return None
        return replace(least, past_thread=most.past_thread)

    @property
    def engagement_now(self) -> EngagementVerdict | None:
        """Thread engagement with the pack in place."""
        return self.engagement_under(self.pad_packs)
