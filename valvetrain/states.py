"""How a head stands, over the states of its stands and valves, and what is next. Nothing here asks the database."""

from dataclasses import dataclass

from valvetrain.models import Head, HeightGauge
from valvetrain.standstate import StandState
from valvetrain.status import DRAWN_AS, Status
from valvetrain.valvestate import ValveState


@dataclass
class HeadState:
    """One head: its stands, and what is next."""

    head: Head
    stands: list[StandState]
    gauges: dict[int, HeightGauge]

    @property
    def valves(self) -> list[ValveState]:
        """Every valve, in order along the head."""
        return sorted(
            (valve for stand in self.stands for valve in stand.valves), key=lambda state: state.valve.order
        )

    @property
    def done(self) -> bool:
        """Whether every stand is in and nothing changed since."""
        return bool(self.stands) and all(stand.status == Status.DONE for stand in self.stands if stand.valves)

    @property
    def on_plan(self) -> dict[str, str]:
        """Class of the balloon on the plan for each address."""
        found = {}
        for stand in self.stands:
            found[stand.address] = f"is-{DRAWN_AS[stand.status]}"
            for valve in stand.valves:
                found[valve.address] = f"is-{DRAWN_AS[valve.status(fitted=stand.pack is not None)]}"
        return found

    @property
    def next_stand(self) -> StandState | None:
        """The stand to go to next: prove what is fitted, then read, then shim, then mend, then look again.

        A stand that shims cannot mend comes after those they can, so that it holds nobody up.
        """
        order = [Status.PROVE, Status.READ, Status.SHIM, Status.OUT, Status.LOOK, Status.WAIT]
        waiting = [stand for stand in self.stands if stand.valves and stand.status in order]
        return min(
            waiting, key=lambda stand: (bool(stand.beyond_shims), order.index(stand.status)), default=None
        )
