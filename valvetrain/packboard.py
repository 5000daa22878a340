"""What the page with the packs for an engine shows: the proposal in words, row by row, and the map of its packs."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from uuid import uuid4

from builds.verdicts import IN, UNDECIDED
from valvetrain.acts import high_or_low
from valvetrain.geometry.engine_packs import FINEST
from valvetrain.geometry.pack_search import Stage
from valvetrain.packmap import HeadMap, head_map
from valvetrain.packwords import (
    amount,
    drawer_notes,
    lot_words,
    off_by_words,
    pack_words,
    shim_name,
    shim_words,
    total_words,
)
from valvetrain.shimming import DrawerLine, Pieces, Proposal, StandProposal
from valvetrain.standstate import CLOSE_ENOUGH, StandState
from valvetrain.states import HeadState
from valvetrain.status import STATUS_WORDS


def exact(pieces: Pieces) -> str:
    """Pieces as a form sends them, exact: 0.0150000000inx2."""
    return " ".join(f"{thickness}inx{count}" for thickness, count in pieces)


@dataclass(frozen=True)
class StandRow:
    """One stand of the proposal."""

    proposal: StandProposal
    unit: str
    client_id: str

    @property
    def address(self) -> str:
        """The stand's printed address."""
        return self.proposal.address

    @property
    def now(self) -> str:
        """The pack in place."""
        return pack_words(self.proposal.stand.pack, self.unit)

    @property
    def words(self) -> str:
        """The proposed pack as it is called."""
        pads = self.proposal.pads
        if self.proposal.alike:
            return shim_words(pads[0].pieces, self.unit)
        return "; ".join(f"pad {pad.letter} {shim_words(pad.pieces, self.unit)}" for pad in pads)

    @property
    def totals(self) -> str:
        """What the packs come to."""
        pads = self.proposal.pads[:1] if self.proposal.alike else self.proposal.pads
        return ", ".join(amount(pad.thickness, self.unit) for pad in pads if pad.pieces)

    @property
    def residuals(self) -> list[tuple[str, str]]:
        """What is left at each valve, in words."""
        return [(address, high_or_low(left, self.unit)) for address, left in self.proposal.residuals]

    @property
    def tilt(self) -> str:
        """How far the stand tilts from its first pad to its last; nothing when every pad gets the same."""
        pads = self.proposal.pads
        over = pads[-1].thickness - pads[0].thickness
        if self.proposal.alike or high_or_low(over, self.unit) == "right":
            return ""
        way = "up" if over > 0 else "down"
        return f"It tilts {amount(over, self.unit)} {way} from pad {pads[0].letter} to pad {pads[-1].letter}."

    @property
    def takes(self) -> str:
        """What it takes out of the drawer."""
        return lot_words(self.proposal.takes, self.unit)

    @property
    def gives(self) -> str:
        """What it puts back."""
        return lot_words(self.proposal.gives, self.unit)

    @property
    def why_out(self) -> str:
        """Why the stand stays out, and what would mend it; nothing when it comes in."""
        packs = self.proposal.packs
        if self.proposal.comes_in:
            return ""
        if packs.why_out == "too high":
            return (
                f"Too high: the stand must come down {amount(packs.lower_by, self.unit)}. Shims cannot do it."
            )
        if packs.why_out == "valves disagree":
            return "Its valves disagree by more than any pack can serve: tip work, or longer valves, would mend it."
        if packs.why_out == "drawer":
            ideal = " and ".join(dict.fromkeys(amount(pack, self.unit) for pack in packs.ideal))
            return f"The drawer cannot do it: it wants {ideal}."
        return "Too near the limit to call: no pack leaves every valve inside it by U. A better tool, or tip work, would."

    @property
    def verdict_words(self) -> str:
        """Whether it comes in, by the shop's rule."""
        return {IN: "comes in", UNDECIDED: "undecided"}.get(self.proposal.verdict, "stays out")

    @property
    def thread(self) -> str:
        """What is wrong with the thread under any pad; nothing when there is enough."""
        verdict = self.proposal.stand.engagement_under([pad.thickness for pad in self.proposal.pads])
        if verdict is None:
            return ""
        told = ""
        if not verdict.enough:
            told = (
                f"Thread: {amount(float(verdict.engagement), self.unit)}, asked "
                f"{amount(float(verdict.required), self.unit)}: too little. Longer bolts."
            )
        if float(verdict.past_thread) > 0:
            told += f" The bolt runs {amount(float(verdict.past_thread), self.unit)} past the thread."
        return told.strip()

    @property
    def sent(self) -> list[tuple[str, str]]:
        """The hidden fields that fit this pack."""
        fields = [("client_id", self.client_id), ("instead_of", self.proposal.stand.pack_id)]
        if self.proposal.alike:
            return [*fields, ("pieces", exact(self.proposal.pads[0].pieces))]
        return [*fields, *((f"pad-{pad.letter}", exact(pad.pieces)) for pad in self.proposal.pads)]


@dataclass(frozen=True)
class KeptRow:
    """One stand whose pack stays, or that is not read yet."""

    stand: StandState
    unit: str

    @property
    def words(self) -> str:
        """Its pack."""
        return pack_words(self.stand.pack, self.unit) + total_words(self.stand.pack, self.unit)

    @property
    def status(self) -> str:
        """How it stands."""
        if any(valve.unsettled for valve in self.stand.valves):
            return "its readings disagree: read again"
        return STATUS_WORDS[self.stand.status]

    @property
    def residuals(self) -> list[tuple[str, str]]:
        """How each valve stands as read."""
        return [
            (valve.address, high_or_low(valve.height_error, self.unit))
            for valve in self.stand.valves
            if valve.height_error is not None
        ]


@dataclass(frozen=True)
class PackBoard:
    """The page."""

    heads: Sequence[HeadState]
    proposal: Proposal
    unit: str

    @property
    def rows(self) -> list[StandRow]:
        """The proposal, stand by stand. Each gets an id, with which fitting it is safe to send twice."""
        return [StandRow(stand, self.unit, str(uuid4())) for stand in self.proposal.stands]

    @property
    def kept(self) -> list[KeptRow]:
        """Stands whose pack stays."""
        return [KeptRow(stand, self.unit) for stand in self.proposal.left_alone]

    @property
    def unread(self) -> list[KeptRow]:
        """Stands that are still to be read or proved."""
        return [KeptRow(stand, self.unit) for stand in self.proposal.unread]

    @property
    def headline(self) -> str:
        """What the proposal comes to, in one sentence."""
        worst = self.proposal.worst
        if worst is None or self.proposal.engine is None:
            return ""
        address, left = worst
        told = high_or_low(left, self.unit)
        out = sum(not stand.comes_in for stand in self.proposal.stands)
        most = "every valve comes out right" if told == "right" else f"the worst valve is {address}, {told}"
        if out:
            return f"{out} of {len(self.proposal.stands)} stands cannot come in with this drawer: {most}."
        return f"Every stand comes in: {most}. {self.proposal.engine.pieces} shims in all."

    @property
    def proof(self) -> list[str]:
        """Whether anything better is possible, in words."""
        return proof_words(self.proposal.engine.stages, self.unit) if self.proposal.engine else []

    @property
    def lines(self) -> list[tuple[DrawerLine, str]]:
        """What the proposal does to the drawer, with each thickness as it is called."""
        return [(line, shim_name(line.thickness, self.unit)) for line in self.proposal.lines]

    @property
    def drawer_notes(self) -> list[str]:
        """What the shop should know of the drawer: the last ones, fewer than it keeps, counts that are off."""
        net = Counter({line.thickness: line.out - line.back for line in self.proposal.lines})
        told = drawer_notes(+net, self.proposal.drawer, self.unit)
        off = [off_by_words(line, self.unit) for line in self.proposal.drawer if line.off_by]
        return list(dict.fromkeys([*told, *off]))

    @property
    def missing(self) -> str:
        """What is missing from the drawer, and the cheapest addition that would mend it; nothing when nothing is."""
        short = self.proposal.short_of_shims
        if not short:
            return ""
        names = ", ".join(stand.address for stand in short)
        if not self.proposal.missing:
            return f"{names}: no shims of whole thousandths would bring them in. Look at the readings again."
        assert self.proposal.engine is not None and self.proposal.engine.addition is not None
        wanted = lot_words(Counter(dict(self.proposal.missing)), self.unit)
        proved = (
            "nothing cheaper would do: no fewer thicknesses, and no fewer shims of them"
            if self.proposal.engine.addition.proved
            else "something cheaper may do: the time was too short to prove it"
        )
        return f"Missing for {names}. Add {wanted} to the drawer and every stand that shims can mend comes in; {proved}."

    @property
    def maps(self) -> list[HeadMap]:
        """The packs of each head as they would lie under it."""
        proposed = {stand.address: stand for stand in self.proposal.stands}
        return [head_map(head, proposed, self.unit) for head in self.heads if head.stands]


RULE_WORDS = {
    "worst": "the worst valve of the engine is no less wrong",
    "stands out": "no fewer stands stay out",
    "sum": "the stands together are no less wrong",
    "pieces": "no fewer shims do as well",
    "leaner": "no fewer shims come as close",
    "sum again": "and with so few shims none leaves the stands less wrong",
}


def proof_words(stages: Sequence[Stage], unit: str) -> list[str]:
    """The proof of each rule in words, in the order in which they were met."""
    proved = [RULE_WORDS[stage.rule] for stage in stages if stage.status == 0]
    open_ended = [stage for stage in stages if stage.status != 0]
    told = []
    if not open_ended:
        told.append(
            f"Proved the best that this drawer can do: no packs that it can make leave the valves less wrong by "
            f"{amount(FINEST, unit)} or more, and none as good takes fewer shims. For fewer shims a stand may be up to "
            f"{amount(CLOSE_ENOUGH, unit)} worse, never out of its limit for that."
        )
    elif proved:
        told.append(f"Proved: {'; '.join(proved)}.")
    for stage in open_ended:
        counted = stage.rule in ("stands out", "pieces", "leaner")
        least = f"{stage.bound:.0f}" if counted else amount(stage.bound, unit)
        told.append(
            f"Not proved in the time that a page may take: that {RULE_WORDS[stage.rule]} than here. "
            f"It cannot be less than {least}."
        )
    return told
