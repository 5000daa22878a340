"""The worksheet's screen: the four parts of one valve at one speed, and the records that feed them."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Protocol

from builds.models import Build
from valvetrain.gathering import HeadRecords
from valvetrain.models import LobeTable, MovingMasses, PistonSide, PushrodSide, Valve, ValveKind
from valvetrain.models.rockers import FitsValves
from valvetrain.models.worksheet import ForKind
from valvetrain.worksheet import case_of, valves_of_heads
from valvetrain.worksheet_lift import lift_part
from valvetrain.worksheet_loads import loads_part
from valvetrain.worksheet_motion import motion_part
from valvetrain.worksheet_pairs import LiftPair, pairs_at
from valvetrain.worksheet_piston import piston_part
from valvetrain.worksheet_words import Letters, Part


class Asked(Protocol):
    """What a person asks to see."""

    @property
    def address(self) -> str:
        """The valve."""

    @property
    def speed(self) -> float:
        """The engine's speed [rpm]."""


@dataclass(frozen=True)
class Feed:
    """One kind of record that feeds the worksheet: those entered, and whether another fits."""

    part: str
    name: str
    records: list[ForKind]

    @property
    def wants_more(self) -> bool:
        """Whether a kind of valve is still without."""
        fits = {record.fits for record in self.records}
        return FitsValves.BOTH not in fits and len(fits) < 2


@dataclass
class WorksheetBoard:
    """Everything that the screen shows."""

    look: Asked
    addresses: list[str]
    head_pk: int | None = None
    parts: list[Part] = field(default_factory=list)
    pairs: list[LiftPair] = field(default_factory=list)
    feeds: list[Feed] = field(default_factory=list)
    lobes: list[tuple[ValveKind, LobeTable | None]] = field(default_factory=list)


def read_board(build: Build, ask: Callable[[Iterable[str]], Asked], unit: str) -> WorksheetBoard:
    """Read a job and work the asked valve out, in a constant number of queries."""
    heads = valves_of_heads(build)
    valves = {valve.address: valve for valve in _valves(heads)}
    look = ask(valves)
    board = WorksheetBoard(look, list(valves))
    board.feeds = [
        Feed("pushrod", "Pushrod’s side", list(PushrodSide.objects.filter(build=build))),
        Feed("masses", "Moving masses", list(MovingMasses.objects.filter(build=build))),
        Feed("piston", "Piston’s side", list(PistonSide.objects.filter(build=build))),
    ]
    tables = {table.kind: table for table in LobeTable.objects.filter(build=build).prefetch_related("points")}
    board.lobes = [(kind, tables.get(kind.value)) for kind in ValveKind]
    if not valves:
        return board
    valve = valves[look.address]
    case, letters = case_of(heads, build, valve), Letters(unit)
    board.head_pk = valve.head_id
    board.pairs = pairs_at(build, valve.address)
    read = [(pair.lobe_lift, pair.valve_lift) for pair in board.pairs]
    board.parts = [
        lift_part(case, read, letters),
        motion_part(case, look.speed, letters),
        loads_part(case, look.speed, letters),
        piston_part(case, letters),
    ]
    _say_gaps_once(board.parts)
    return board


def _valves(heads: list[HeadRecords]) -> list[Valve]:
    found = [valve for head in heads for on_stand in head.valves_on.values() for valve in on_stand]
    return sorted(found, key=lambda valve: (valve.cylinder, valve.kind, valve.nth or 0))


def _say_gaps_once(parts: list[Part]) -> None:
    """What an earlier part lacks is not told again."""
    said: set[str] = set()
    for part in parts:
        kept = [gap for gap in part.gaps if gap.words not in said]
        again = len(kept) < len(part.gaps)
        said |= {gap.words for gap in part.gaps}
        part.gaps = kept
        if again:
            part.gap("What the parts above lack is lacking here too.")
