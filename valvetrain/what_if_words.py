"""The figures of a trial in words: how each is named, how it follows, and how it is told beside today's."""

from dataclasses import dataclass
from decimal import Decimal

from builds.measures import show, unit_for
from valvetrain.gathering import LimitValue
from valvetrain.models import ValveKind
from valvetrain.packwords import amount
from valvetrain.valvestate import within
from valvetrain.what_if import Outcome

AS_TODAY, UP, DOWN, NEW = "same", "up", "down", "new"


@dataclass(frozen=True)
class Told:
    """How one figure is named and told; `formula` says how it follows and what is assumed."""

    name: str
    label: str
    formula: str
    kind: str = "length"
    limit: str = ""
    places: tuple[int, int] | None = None  # inch, millimetre


FIGURES = [
    Told("lift", "Net lift", "As typed; else today’s and what lobe lift × ratio − lash changes by."),
    Told(
        "target_top",
        "Top of shaft, when right",
        "Roller radius + shaft radius − the part it stands square at × net lift; above the closed tip.",
    ),
    Told(
        "stand_move",
        "Stand, against the head",
        "How far its right place moves: the tip’s own rise, the roller’s radius, and − square at × net lift.",
    ),
    Told(
        "rise",
        "Shaft still has to go",
        "Right height − height as read. The shaft has not moved; a tip that comes up leaves it low by as "
        "much.",
    ),
    Told(
        "over_gauge",
        "Gauge, when right",
        "Its step − right height: a gap over the shaft, or a feeler under the foot.",
    ),
    Told(
        "sweep",
        "Mark, width",
        "The travel of the roller across the tip at the right height; at half lift L − √(L² − (S/2)²).",
        limit="sweep",
        places=(3, 2),
    ),
    Told(
        "walk",
        "Mark, its middle moves",
        "What the pack carries the shaft across, t·sin φ, and what another arm or lift does to the middle of "
        "the travel.",
        places=(3, 2),
    ),
    Told(
        "installed_height",
        "Installed height",
        "As typed; else it follows the retainer: seat cut deeper, and a longer valve with its groove. Spring "
        "shims as today.",
    ),
    Told(
        "seat_load",
        "Seat load",
        "As typed; else today’s less rate × what the spring stands taller. A straight-line spring.",
        kind="force",
    ),
    Told("open_load", "Open load", "Seat load + rate × net lift. A straight-line spring.", kind="force"),
    Told(
        "coil_bind_margin",
        "Coil-bind margin",
        "Installed height − net lift − solid height.",
        limit="coil_bind_margin",
    ),
    Told(
        "retainer_to_seal",
        "Retainer to seal",
        "As measured, and what the retainer comes up by, less the added lift. Seal and guide as today.",
        limit="retainer_to_seal",
    ),
    Told(
        "rocker_to_retainer",
        "Rocker to retainer",
        "As measured, and what the tip comes up over the retainer, along the valve. Same arm and roller only.",
        limit="rocker_to_retainer",
    ),
    Told(
        "piston_to_valve",
        "Piston to valve, at least",
        "As measured, and what the valve sinks, less the whole added lift: it loses less, since the valve is "
        "not fully open where it is nearest.",
        limit="piston_to_valve",
    ),
    Told(
        "pushrod_length",
        "Pushrod, at zero lash",
        "The cup’s move along the valve: tip + H − (r − H) / ratio, stand at its right height both times, pushrod "
        "along the valve axis. With the pushrod’s side entered on the job: the linkage in space.",
    ),
    Told(
        "pushrod_change",
        "Pushrod, at zero lash",
        "The same, while no length is measured.",
    ),
    Told(
        "pushrod_spare",
        "The typed pushrod",
        "Against what the trial asks for: the adjuster makes up the rest.",
    ),
]


@dataclass(frozen=True)
class Compared:
    """One figure today and in the trial, in the reader's unit; `verdict` where it is past its limit."""

    told: Told
    was: str
    now: str
    sign: str
    change: str
    verdict: str = ""

    @property
    def words(self) -> str:
        """was 0.235, now 0.230 in."""
        if self.sign == AS_TODAY:
            return f"{self.now}, as today"
        return f"was {self.was}, now {self.now}" if self.was else self.now


# Figures that are a way to go: what it is called one way, the other way, and neither.
WAYS = {
    "stand_move": ("up {}", "down {}", "no change"),
    "rise": ("up {}", "down {}", "nowhere: it is right"),
    "walk": ("{} outboard", "{} inboard", "no change"),
    "pushrod_change": ("{} longer", "{} shorter", "no change"),
    "pushrod_spare": ("{} too long", "{} too short", "right"),
    "over_gauge": ("{} over the shaft", "{} feeler under the foot", "just touching"),
}


def figures(
    outcome: Outcome, walk: float | None, kind: str, limits: dict[str, LimitValue], unit: str
) -> list[Compared]:
    """Every figure of one valve that is known in the trial."""
    found = []
    for told in FIGURES:
        was, now, from_today = _pair(told.name, outcome, walk)
        if now is None:
            continue
        key = told.limit
        if key == "piston_to_valve":
            key += "_intake" if kind == ValveKind.INTAKE else "_exhaust"
        figure = _Figure(told, unit)
        if from_today:
            found.append(figure.move(now))
        else:
            found.append(figure.compared(was, now, limits.get(key)))
    return found


def _pair(name: str, outcome: Outcome, walk: float | None) -> tuple[float | None, float | None, bool]:
    """A figure today and in the trial; and whether it is told as a move from today."""
    if name == "stand_move":
        return None, outcome.stand_move, True
    if name == "walk":
        return None, walk, True
    if name == "pushrod_change":
        return None, outcome.pushrod_change if outcome.pushrod_length is None else None, True
    if name == "pushrod_spare":
        return None, outcome.pushrod_spare, True
    if name == "pushrod_length":
        return outcome.today.pushrod_length, outcome.pushrod_length, False
    return getattr(outcome.was, name), getattr(outcome.now, name), False


@dataclass(frozen=True)
class _Figure:
    """How one figure is written in the reader's unit."""

    told: Told
    length_unit: str

    @property
    def unit(self) -> str:
        return unit_for(self.told.kind, self.length_unit)

    @property
    def places(self) -> int | None:
        return None if self.told.places is None else self.told.places[self.length_unit == "mm"]

    def plain(self, value: float) -> str:
        return show(value, self.unit, self.places)

    def words(self, plain: str) -> str:
        """A figure as it is told, from how it is written."""
        ways = WAYS.get(self.told.name)
        if ways is None:
            return f"{plain} {self.unit}"
        if not plain.strip("−0."):
            return ways[2]
        return ways[1 if plain.startswith("−") else 0].format(f"{plain.lstrip('−')} {self.unit}")

    def move(self, now: float) -> Compared:
        """A figure that is itself a move from today."""
        plain = self.plain(now)
        sign = UP if now > 0 else DOWN
        return Compared(self.told, "", self.words(plain), sign if plain.strip("−0.") else AS_TODAY, "")

    def compared(self, was: float | None, now: float, limit: LimitValue | None) -> Compared:
        past, after = _past(now, limit, self.length_unit), self.plain(now)
        if was is None:
            return Compared(self.told, "", f"{self.words(after)}, not known today", NEW, "", past)
        before = self.plain(was)
        if before == after:
            return Compared(self.told, "", self.words(after), AS_TODAY, "", past)
        sign, change, ways = UP if now > was else DOWN, "", self.told.name in WAYS
        if not ways:
            # The difference of the two figures as they are shown, so that the line adds up.
            change = f"{sign} {abs(_number(after) - _number(before))} {self.unit}"
        return Compared(
            self.told, self.words(before) if ways else before, self.words(after), sign, change, past
        )


def _number(plain: str) -> Decimal:
    return Decimal(plain.replace("−", "-"))


def _past(now: float, limit: LimitValue | None, unit: str) -> str:
    if limit is None or within(now, limit):
        return ""
    if limit.low is not None and now < limit.low:
        return f"past the limit: at least {amount(limit.low, unit)}"
    return f"past the limit: at most {amount(limit.high or 0.0, unit)}"
