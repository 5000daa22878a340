"""The spring that a valve really had: heights, loads and what was left before its coils touched. Makes no query.

Heights in inches, loads in pounds-force, rates in lbf/in.
"""

from dataclasses import dataclass
from decimal import Decimal

from builds.limits import LimitFor
from builds.verdicts import PLAIN
from valvetrain.as_found_reads import LogReads
from valvetrain.models import SpringSheet

AS_READ, BY_SHEET, WORKED_OUT = "as read", "by its sheet", "worked out"


@dataclass(frozen=True)
class Figure:
    """A figure, and how it is known; without a value, a sentence that says why.

    `borrowed`: nothing was read of it as found, and it is taken from when the engine left.
    """

    value: float | None = None
    source: str = ""
    borrowed: bool = False
    why: str = ""

    def lent(self) -> "Figure":
        """The same figure, taken over from when the engine left."""
        return Figure(self.value, self.source, True, self.why)


@dataclass(frozen=True)
class SpringHad:
    """The spring of one valve at one time."""

    installed: Figure
    seat: Figure
    rate: Figure
    open_load: Figure
    solid: Figure
    margin: Figure
    margin_limit: LimitFor | None = None

    @property
    def margin_verdict(self) -> str:
        """in or out, of the coil-bind margin; nothing where either side of it is not known."""
        if self.margin.value is None or self.margin_limit is None:
            return ""
        low = None if self.margin_limit.low is None else float(self.margin_limit.low)
        return PLAIN.judge(self.margin.value, low, None)

    @property
    def _named(self) -> dict[str, Figure]:
        found = {
            "installed height": self.installed, "seat load": self.seat, "spring rate": self.rate,
            "solid height": self.solid,
        }  # fmt: skip
        return {name: figure for name, figure in found.items() if figure.value is not None}

    @property
    def borrowed(self) -> list[str]:
        """What of it is from when the engine left, by name."""
        return [name for name, figure in self._named.items() if figure.borrowed]

    @property
    def by_sheet(self) -> list[str]:
        """What of it was read neither then nor now, and is taken from its maker's sheet."""
        return [name for name, figure in self._named.items() if figure.source == BY_SHEET]

    @property
    def was_read(self) -> bool:
        """Whether any of it was read at that time."""
        return any(figure.source == AS_READ and not figure.borrowed for figure in self._named.values())


def spring_had(
    address: str,
    reads: LogReads,
    lift: float | None,
    sheet: SpringSheet | None,
    left_with: SpringHad | None = None,
) -> SpringHad:
    """A valve's spring from what was read of it, else its maker's sheet; as found, else as it left.

    `lift` is the net lift that it really had; `left_with` the same spring when the engine left, for one as found.
    """
    rate = _rate(address, reads, sheet, left_with)
    installed = _of(
        address, reads, "installed_height", sheet.installed_height if sheet else None,
        left_with.installed if left_with else None,
    )  # fmt: skip
    solid = _of(
        address, reads, "solid_height", sheet.solid_height if sheet else None, left_with.solid if left_with else None
    )  # fmt: skip
    seat = _seat(address, reads, installed, rate, sheet, left_with)
    return SpringHad(
        installed, seat, rate, _open(seat, rate, lift, address), solid, _margin(installed, solid, lift, address),
        reads.log.limits.get("coil_bind_margin", address),
    )  # fmt: skip


def _of(address: str, reads: LogReads, key: str, by_sheet: Decimal | None, then: Figure | None) -> Figure:
    read = reads.value(address, key)
    if read is not None:
        return Figure(read, AS_READ)
    # What was not read then either is not from then: its sheet holds whenever it is read.
    if then is not None and then.value is not None and then.source != BY_SHEET:
        return then.lent()
    if by_sheet is not None:
        return Figure(float(by_sheet), BY_SHEET)
    name = key.replace("_", " ")
    return Figure(why=f"The {name} of {address} was not read, and no spring sheet says it.")


def _rate(address: str, reads: LogReads, sheet: SpringSheet | None, then: SpringHad | None) -> Figure:
    seat, opened = reads.value(address, "seat_load"), reads.value(address, "open_load")
    # The lift at which the open height was set on the tester: the one that the log worked with.
    lift = reads.value(address, "net_lift") or reads.known(address, "net_lift")
    if seat is not None and opened is not None and lift:
        if opened <= seat:
            return Figure(
                why=f"The open load of {address} is not above its seat load: one of them was misread."
            )
        return Figure((opened - seat) / lift, AS_READ)
    if then is not None and then.rate.value is not None and then.rate.source != BY_SHEET:
        return then.rate.lent()
    by_sheet = sheet.rate() if sheet is not None else None
    if by_sheet is not None:
        return Figure(float(by_sheet), BY_SHEET)
    return Figure(
        why=f"The rate of {address} needs its seat and open load as read, or both loads of a sheet."
    )


def _seat(
    address: str,
    reads: LogReads,
    installed: Figure,
    rate: Figure,
    sheet: SpringSheet | None,
    then: SpringHad | None,
) -> Figure:
    read = reads.value(address, "seat_load")
    if read is not None:
        return Figure(read, AS_READ)
    if then is not None and then.seat.value is not None and then.seat.source == AS_READ:
        known, at, source, lent = then.seat.value, then.installed.value, AS_READ, True
    elif sheet is not None:
        known, at, source, lent = float(sheet.seat_load), float(sheet.installed_height), BY_SHEET, False
    else:
        return Figure(why=f"The seat load of {address} was not read, and no spring sheet says it.")
    height = installed.value
    if height is None or at is None or rate.value is None:
        return Figure(known, source, lent)
    return Figure(known + rate.value * (at - height), source, lent)


def _open(seat: Figure, rate: Figure, lift: float | None, address: str) -> Figure:
    if seat.value is None or rate.value is None:
        return Figure(why=seat.why or rate.why)
    if lift is None:
        return Figure(why=f"The open load of {address} needs its net lift.")
    return Figure(seat.value + rate.value * lift, WORKED_OUT)


def _margin(installed: Figure, solid: Figure, lift: float | None, address: str) -> Figure:
    if installed.value is None or solid.value is None:
        return Figure(why=installed.why or solid.why)
    if lift is None:
        return Figure(why=f"The coil-bind margin of {address} needs its net lift.")
    return Figure(installed.value - lift - solid.value, WORKED_OUT)
