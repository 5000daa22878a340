"""Packs for a whole engine: its stands as read, and one drawer in; a proposal for every stand out.

Nothing here asks the database, and nothing is kept: the next look works everything out again. Lengths are in inches.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from functools import lru_cache

from builds.verdicts import IN
from valvetrain.drawer_count import InDrawer, within_reach
from valvetrain.geometry.engine_packs import EnginePacks, StandPacks, choose_engine_packs
from valvetrain.geometry.engine_stands import EngineStand
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.packs import Piece
from valvetrain.packwords import pack_pieces
from valvetrain.standstate import CLOSE_ENOUGH, StandState
from valvetrain.states import HeadState
from valvetrain.status import Status
from valvetrain.valvestate import DEFAULT_TOLERANCE, plain_limit

Pieces = list[tuple[Decimal, int]]
BENDING = Decimal("0.001")
# A page waits for the proof so long and then says that there is none [s].
SECONDS = 2.0


class How(StrEnum):
    """What may be done with a stand."""

    LEAVE = "leave"  # its pack stays
    ALIKE = "alike"  # the same pack under every pad
    TILT = "tilt"  # each pad its own


@dataclass(frozen=True)
class Wish:
    """What a person wants of one stand: how, and pieces (thickness, count) that must be under each pad."""

    how: How
    must: tuple[tuple[Decimal, int], ...] = ()


@dataclass(frozen=True)
class Wishes:
    """What a person wants of an engine: by the stand's key; and how far a pack may be off the straight line."""

    stands: Mapping[int, Wish] = field(default_factory=dict)
    bending: Decimal = BENDING

    def of(self, stand: StandState) -> Wish:
        """What is wanted of a stand; what suits its state where nothing was said."""
        return self.stands.get(stand.stand.pk) or Wish(usual_way(stand))


def usual_way(stand: StandState) -> How:
    """What suits a stand where nobody said anything: what is in stays; pads that differ may differ again."""
    if stand.status in (Status.DONE, Status.LOOK):
        return How.LEAVE
    return How.TILT if stand.pack is not None and stand.pack.differs else How.ALIKE


def is_read(stand: StandState) -> bool:
    """Whether a stand may get a pack: every valve read, and no repeats that disagree."""
    return stand.all_read and not any(valve.unsettled for valve in stand.valves)


@dataclass(frozen=True)
class PadProposal:
    """The pack under one pad."""

    letter: str
    pieces: Pieces
    thickness: float


@dataclass(frozen=True)
class StandProposal:
    """The packs for one stand and what they leave."""

    stand: StandState
    wish: Wish
    packs: StandPacks
    pads: list[PadProposal]

    @property
    def address(self) -> str:
        """The stand's printed address."""
        return self.stand.address

    @property
    def verdict(self) -> str:
        """in, undecided or out: what its valves come to, by the shop's rule, as well as they are known now."""
        return self.stand.verdict_left(self.packs.residuals)

    @property
    def comes_in(self) -> bool:
        """Whether every valve of it comes in."""
        return self.verdict == IN

    @property
    def alike(self) -> bool:
        """Whether every pad gets the same."""
        return all(pad.pieces == self.pads[0].pieces for pad in self.pads)

    @property
    def pieces(self) -> Counter[Decimal]:
        """All its pieces, all pads together."""
        found: Counter[Decimal] = Counter()
        for pad in self.pads:
            found.update(dict(pad.pieces))
        return found

    @property
    def takes(self) -> Counter[Decimal]:
        """What it takes out of the drawer beyond what lies under it now."""
        return self.pieces - self.stand.own_pieces

    @property
    def gives(self) -> Counter[Decimal]:
        """What goes back into the drawer."""
        return self.stand.own_pieces - self.pieces

    @property
    def as_it_is(self) -> bool:
        """Whether this very pack is in place already."""
        now = [pack_pieces(self.stand.pack, pad.pk) for pad in self.stand.pads]
        return now == [pad.pieces for pad in self.pads]

    @property
    def residuals(self) -> list[tuple[str, float]]:
        """Height error left at each valve, with its address; positive: high."""
        return [
            (valve.address, left) for valve, left in zip(self.stand.valves, self.packs.residuals, strict=True)
        ]


@dataclass(frozen=True)
class DrawerLine:
    """One thickness: how many there are, how many go out and come back, and how many are left."""

    thickness: Decimal
    now: int
    out: int
    back: int
    least: int

    @property
    def left(self) -> int:
        """What the drawer has once everything is fitted."""
        return self.now - self.out + self.back

    @property
    def low(self) -> bool:
        """Whether that is fewer than the shop keeps."""
        return self.left < self.least


@dataclass(frozen=True)
class Proposal:
    """Packs for an engine: what is proposed, what stays, and what is not read yet."""

    stands: list[StandProposal]
    left_alone: list[StandState]
    unread: list[StandState]
    drawer: Sequence[InDrawer]
    engine: EnginePacks | None = None
    problem: str = ""

    @property
    def lines(self) -> list[DrawerLine]:
        """What the proposal does to the drawer, thickest first."""
        out: Counter[Decimal] = Counter()
        back: Counter[Decimal] = Counter()
        for stand in self.stands:
            out.update(stand.takes)
            back.update(stand.gives)
        there = {line.thickness: line for line in self.drawer}
        none = InDrawer(Decimal(0), 0)
        return [
            DrawerLine(
                thickness, there.get(thickness, none).count, out[thickness], back[thickness],
                there.get(thickness, none).least,
            )
            for thickness in sorted(out | back, reverse=True)
        ]  # fmt: skip

    @property
    def worst(self) -> tuple[str, float] | None:
        """The valve that is left least right, and by how much."""
        left = [each for stand in self.stands for each in stand.residuals]
        return max(left, key=lambda each: abs(each[1])) if left else None

    @property
    def missing(self) -> list[tuple[Decimal, int]]:
        """The cheapest addition to the drawer that would bring every stand in which shims can."""
        addition = self.engine.addition if self.engine else None
        return [(Decimal(repr(thickness)), count) for thickness, count in addition.shims] if addition else []

    @property
    def short_of_shims(self) -> list[StandProposal]:
        """Stands that are out only because of what is not in the drawer."""
        return [stand for stand in self.stands if stand.packs.why_out == "drawer" and not stand.comes_in]


def propose(heads: Iterable[HeadState], wishes: Wishes) -> Proposal:
    """Propose packs for every stand that is read, all from one drawer."""
    return _propose([stand for head in heads for stand in head.stands if stand.valves], wishes)


def _propose(stands: Sequence[StandState], wishes: Wishes) -> Proposal:
    unread = [stand for stand in stands if not is_read(stand)]
    left_alone = [stand for stand in stands if is_read(stand) and wishes.of(stand).how is How.LEAVE]
    asked = [stand for stand in stands if is_read(stand) and wishes.of(stand).how is not How.LEAVE]
    drawer = stands[0].shims if stands else []
    if not asked:
        return Proposal([], left_alone, unread, drawer)
    own: Counter[Decimal] = Counter()
    for stand in asked:
        own.update(stand.own_pieces)
    reach = within_reach(drawer, own)
    try:
        engine = _choose(
            tuple(_engine_stand(stand, wishes.of(stand), wishes.bending) for stand in asked),
            tuple(Piece(float(line.thickness), line.count) for line in reach),
        )
    except GeometryError as error:
        return Proposal([], left_alone, unread, drawer, problem=_sentence(error))
    known = [line.thickness for line in reach]
    proposed = [
        StandProposal(stand, wishes.of(stand), packs, _pads(stand, packs, known))
        for stand, packs in zip(asked, engine.stands, strict=True)
    ]
    return Proposal(proposed, left_alone, unread, drawer, engine)


@lru_cache(maxsize=32)
def _choose(stands: tuple[EngineStand, ...], stock: tuple[Piece, ...]) -> EnginePacks:
    """The same question is answered once: a page that is looked at again does not wait again."""
    return choose_engine_packs(
        stands, stock, tolerance=DEFAULT_TOLERANCE, close_enough=CLOSE_ENOUGH, seconds=SECONDS
    )


def _sentence(error: GeometryError) -> str:
    told = str(error)
    return f"{told[0].upper()}{told[1:]}."


def missing_for(stand: StandState) -> Counter[Decimal]:
    """The cheapest addition to the drawer that would bring this stand in, by itself; empty where shims do not lack."""
    if not is_read(stand):
        return Counter()
    wish = Wish(How.TILT if usual_way(stand) is How.TILT else How.ALIKE)
    return Counter(dict(_propose([stand], Wishes({stand.stand.pk: wish})).missing))


def _aim(stand: StandState, tilts: bool) -> float:
    """The height error that its packs may leave and its valves still be in, by the shop's rule [in]."""
    if not tilts:
        return stand.aim(stand.needed_packs)
    return plain_limit(stand.tolerance) if stand.proved_within is None else stand.proved_within


def _engine_stand(stand: StandState, wish: Wish, bending: Decimal) -> EngineStand:
    """A stand as the geometry takes it."""
    pads = [float(pad.along) for pad in stand.pads]
    apart = bool(pads) and len(set(pads)) == len(pads)
    in_place = stand.pad_packs
    if not apart:
        # Pads side by side cannot tilt the stand along the head: it rises as one.
        pads = [float(number) for number in range(stand.pad_count)]
        in_place = [sum(in_place) / len(in_place)] * len(pads)
    tilts = apart and len(pads) > 1 and wish.how is How.TILT
    return EngineStand(
        name=stand.address,
        rises=tuple(valve.rise or 0.0 for valve in stand.valves),
        valves_at=tuple(float(valve.valve.along) for valve in stand.valves) if apart else (),
        pads_at=tuple(pads),
        pad_tilt=float(stand.stand.pad_tilt),
        packs_in_place=tuple(in_place),
        allow_tilt=tilts,
        bending=float(bending),
        forced=tuple((float(thickness), count) for thickness, count in wish.must),
        tolerance=_aim(stand, tilts),
    )


def _pads(stand: StandState, packs: StandPacks, known: Sequence[Decimal]) -> list[PadProposal]:
    """Each pad's pack, in the pieces as they are written in the drawer."""
    letters = [pad.letter for pad in stand.pads] or [""]
    return [
        PadProposal(letter, [(_nearest(known, thin), count) for thin, count in pack.pieces], pack.thickness)
        for letter, pack in zip(letters, packs.packs, strict=True)
    ]


def _nearest(known: Sequence[Decimal], thickness: float) -> Decimal:
    return min(known, key=lambda kept: abs(float(kept) - thickness))
