"""What of a valve changed since it left, and by how many times what is allowed: so that the worst comes first.

The height's change is the shaft's own: what another lift makes of it is told with the lift. Makes no query. Values in
base units.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import hypot

from builds.limits import LimitFor
from builds.measures import show, unit_for
from builds.worklog import WorkLog
from valvetrain.as_found_moment import Moment
from valvetrain.as_found_springs import BY_SHEET, Figure
from valvetrain.changes import lift_part
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.travel import sweep
from valvetrain.valvestate import plain_limit

# What is allowed where the book sets no limit: the lash's ± .002 in, the spring's ± .010 in and ± 5 %, common practice.
LASH_ALLOWED, HEIGHT_ALLOWED, LOAD_SHARE = 0.002, 0.010, 0.05
# Whose limit a figure is counted in that has none of its own.
OWN_LIMIT = "its limit"
LIMIT_OF = {
    "lift": "the lash’s limit", "mark": "what the height’s limit makes", "open_load": "the seat load’s share",
}  # fmt: skip


@dataclass(frozen=True)
class Change:
    """One figure then and now, and what is allowed of it either way, by `limit`."""

    key: str
    name: str
    unit_kind: str
    then: float
    now: float
    allowed: float
    limit: str

    @property
    def difference(self) -> float:
        """Now less then."""
        return self.now - self.then

    @property
    def share(self) -> float:
        """How many times what is allowed it changed: just that much is once, whatever the machine's last digits say."""
        return round(abs(self.difference) / self.allowed, 9)

    def words(self, length_unit: str) -> str:
        """height −0.0120 in, 2.4 × its limit, ± 0.0050 in."""
        unit = unit_for(self.unit_kind, length_unit)
        changed = show(self.difference, unit, sign=True, with_unit=True)
        allowed = show(self.allowed, unit, with_unit=True)
        return f"{self.name} {changed}, {self.share:.1f} × {self.limit}, ± {allowed}"


def changes_of(then: Moment, now: Moment, log: WorkLog) -> list[Change]:
    """Everything that is known of a valve at both times, and was read as found. `log` has the limits it left with."""
    address = then.state.address
    height_allowed = plain_limit(then.state.tolerance)
    loads = _load_allowed(log, address, then)
    rows: list[tuple[str, str, str, float | None, float | None, float]] = [
        ("height", "height", "length", then.height_error, _height(then, now), height_allowed),
        ("lift", "net lift", "length", then.lift.value, _read(now.lift), _either_way(log, "lash", address, LASH_ALLOWED)),
        ("mark", "mark’s width", "length", then.mark_width, now.mark_width, _mark_allowed(then, now, height_allowed)),
        (
            "installed_height", "installed height", "length", then.spring.installed.value, _read(now.spring.installed),
            _either_way(log, "installed_height", address, HEIGHT_ALLOWED),
        ),
        ("seat_load", "seat load", "force", then.spring.seat.value, _read(now.spring.seat), loads[0]),
        ("open_load", "open load", "force", then.spring.open_load.value, _open(now), loads[1]),
    ]  # fmt: skip
    return list(_known(rows))


def _known(rows: list[tuple[str, str, str, float | None, float | None, float]]) -> Iterator[Change]:
    for key, name, kind, then, now, allowed in rows:
        if then is not None and now is not None and allowed > 0:
            yield Change(key, name, kind, then, now, allowed, LIMIT_OF.get(key, OWN_LIMIT))


def _height(then: Moment, now: Moment) -> float | None:
    """The height error as it would be with the lift of then."""
    return None if now.height_error is None else now.height_error - (part_of_lift(then, now) or 0.0)


def part_of_lift(then: Moment | None, now: Moment | None) -> float | None:
    """How much of a height that changed is another net lift's, and not the stand's [in]; None: not known."""
    if then is None or now is None or then.height_error is None or now.height_error is None:
        return None
    return lift_part(then.state.inputs, now.state.inputs)


def _read(figure: Figure) -> float | None:
    """A figure's value where it was read as found: not taken over, and not its sheet's."""
    return None if figure.borrowed or figure.source == BY_SHEET else figure.value


def _open(now: Moment) -> float | None:
    """The open load, where anything of what makes it was read as found."""
    return now.spring.open_load.value if now.spring_told else None


def _either_way(log: WorkLog, key: str, address: str, otherwise: float) -> float:
    limit: LimitFor | None = log.limits.get(key, address) or (
        log.limits.get("lash_hot", address) if key == "lash" else None
    )
    if limit is None or limit.low is None or limit.high is None:
        return otherwise
    return float(limit.high - limit.low) / 2


def _load_allowed(log: WorkLog, address: str, then: Moment) -> tuple[float, float]:
    """Seat and open load: the seat's limit, and the same share of the open load."""
    seat, opened = then.spring.seat.value or 0.0, then.spring.open_load.value or 0.0
    allowed = _either_way(log, "seat_load", address, seat * LOAD_SHARE)
    return allowed, opened * allowed / seat if seat else opened * LOAD_SHARE


def _mark_allowed(then: Moment, now: Moment, height: float) -> float:
    """How much wider the mark gets at the end of what the height may be off, and no less than it can be read."""
    inputs = then.state.inputs
    if inputs.arm is None or inputs.lift is None:
        return 0.0
    try:
        right, off = (
            float(sweep(inputs.arm, inputs.lift, error, square_at=inputs.square_at))
            for error in (0.0, height)
        )
    except GeometryError:
        return 0.0
    known = [each.mark.expanded("width") or 0.0 for each in (then, now) if each.mark is not None]
    return max(abs(off - right), hypot(*known))
