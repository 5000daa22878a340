"""What the What if screen shows: every figure beside today's, told in words. Everything a template asks."""

import zlib
from dataclasses import dataclass, field
from functools import cached_property

from django.forms import BoundField

from builds.measures import in_unit, show, unit_for
from valvetrain.acts import Act, act_for
from valvetrain.forms.what_if import WhatIfForm
from valvetrain.packwords import amount
from valvetrain.what_if_fields import GROUPS, SPECS
from valvetrain.what_if_records import StandPair, Today, TriedOut, ValveToday, stays, try_out
from valvetrain.what_if_words import AS_TODAY, FIGURES, Compared, Told, figures


@dataclass(frozen=True)
class ValveGroup:
    """Valves for which a trial comes to the same, told once."""

    addresses: tuple[str, ...]
    figures: tuple[Compared, ...]
    problems: tuple[str, ...]
    missing: tuple[str, ...]

    @property
    def name(self) -> str:
        """Their addresses."""
        return ", ".join(self.addresses)

    @cached_property
    def changed(self) -> list[Compared]:
        """The figures that are not as today."""
        return [each for each in self.figures if each.sign != AS_TODAY]

    @cached_property
    def same(self) -> list[Compared]:
        """The figures that stay as they are."""
        return [each for each in self.figures if each.sign == AS_TODAY]


SHIMS_DRAWN_AS = {"shims can’t do it": "out", "not read yet": "todo", "to read once more": "look"}


@dataclass(frozen=True)
class StandRow:
    """One stand today and in the trial, as the bench would tell it."""

    pair: StandPair
    unit: str

    @property
    def address(self) -> str:
        """The stand's printed address."""
        return self.pair.was.address

    @cached_property
    def was(self) -> Act:
        """What the stand needs today."""
        return act_for(self.pair.was, self.unit)

    @cached_property
    def now(self) -> Act:
        """What it would need."""
        return act_for(self.pair.now, self.unit)

    @cached_property
    def same(self) -> bool:
        """Whether the trial leaves the stand as it is."""
        return self.was.headline == self.now.headline

    @property
    def thread_was(self) -> str:
        """Thread in the head with today's pack, where the trial's differs."""
        threads = [
            stand.engagement(pack)
            for stand, pack in zip((self.pair.was, self.pair.now), self.pair.packs, strict=True)
            if pack is not None
        ]
        if len(threads) < 2 or threads[0] is None or threads[1] is None:
            return ""
        was, now = (amount(float(each.engagement), self.unit) for each in threads if each is not None)
        return was if was != now else ""

    @cached_property
    def shims(self) -> str:
        """Whether shims can do it, in a word or two."""
        stand = self.pair.now
        if self.pair.packs[1] is None:
            return "not read yet"
        if any(valve.unsettled for valve in stand.valves):
            return "to read once more"
        if stays(stand):
            return "the pack in place serves" if stand.pack_total else "needs no shims"
        return "shims do it" if stand.choice is not None and stand.choice.within else "shims can’t do it"

    @property
    def drawn_as(self) -> str:
        """The class for it."""
        return SHIMS_DRAWN_AS.get(self.shims, "done")

    @cached_property
    def quiet(self) -> bool:
        """Whether there is nothing to tell of it but that it is not read."""
        return self.pair.packs[1] is None and not any(valve.problem for valve in self.pair.now.valves)

    @property
    def pack(self) -> str:
        """The pack today and in the trial."""
        was, now = self.pair.packs
        if was is None or now is None:
            return ""
        if in_unit(was, self.unit) == in_unit(now, self.unit):
            return f"{_pack_words(now, self.unit)}, as today"
        return f"was {_pack_words(was, self.unit)}, now {_pack_words(now, self.unit)}"


def _pack_words(pack: float, unit: str) -> str:
    return show(pack, unit, with_unit=True) if pack else "none"


@dataclass(frozen=True)
class FieldLine:
    """One field of the form, today's value, and what is wrong with what was typed."""

    form: WhatIfForm
    name: str
    today: str
    error: str

    @property
    def bound(self) -> BoundField:
        """The field itself."""
        return self.form[self.name]

    @property
    def how(self) -> str:
        """What the field means."""
        return SPECS[self.name].how if self.name in SPECS else ""


@dataclass
class WhatIfBoard:
    """The whole screen."""

    today: Today
    form: WhatIfForm
    unit: str
    tried: TriedOut = field(init=False)

    def __post_init__(self) -> None:
        self.tried = try_out(self.today, self.form.at, self.form.changes)

    @property
    def scope(self) -> str:
        """Which valves it is for, in words."""
        return {"": "all valves", "I": "the intakes", "E": "the exhausts"}.get(self.form.at, self.form.at)

    @cached_property
    def stands(self) -> list[StandRow]:
        """The stands that carry a valve of the trial."""
        return [StandRow(pair, self.unit) for pair in self.tried.stands]

    @cached_property
    def valves(self) -> list[ValveGroup]:
        """Its valves, those that come to the same together."""
        same: dict[tuple[object, ...], tuple[object, ...]] = {}
        alike: dict[tuple[object, ...], list[str]] = {}
        for address, outcome in self.tried.outcomes.items():
            kind, walk = self.today.valves[address].state.valve.kind, self.tried.walks.get(address)
            worked = (outcome, walk, kind)
            if worked not in same:
                told = tuple(figures(outcome, walk, kind, self.today.limits, self.unit))
                known = UNTOLD | {each.told.name for each in told}
                missing = tuple(each.label.lower() for each in FIGURES if each.name not in known)
                same[worked] = (told, outcome.now.problems, missing)
            alike.setdefault(same[worked], []).append(address)
        return [ValveGroup(tuple(where), *key) for key, where in alike.items()]  # type: ignore[arg-type]

    @cached_property
    def missing_everywhere(self) -> list[str]:
        """Figures that are told at none of its valves."""
        first = self.valves[0].missing if self.valves else ()
        return [label for label in first if all(label in group.missing for group in self.valves)]

    def missing_at(self, group: ValveGroup) -> list[str]:
        """Figures that are told at other valves and not at these."""
        return [label for label in group.missing if label not in self.missing_everywhere]

    @property
    def valve_blocks(self) -> list[tuple[ValveGroup, list[str]]]:
        """Its valves in groups, each with what is not told there."""
        return [(group, self.missing_at(group)) for group in self.valves]

    @property
    def formulas(self) -> list[Told]:
        """How each figure follows, and what is assumed."""
        return FIGURES

    @property
    def summary(self) -> str:
        """What was worked out, in a line."""
        if not self.form.differs:
            return f"As it is today, {self.scope}. Change something to see what follows."
        changed = sum(not row.same for row in self.stands)
        count = len(self.stands)
        stands = "stand" if count == 1 else "stands"
        told = f"Worked out for {self.scope}: {changed} of {count} {stands} would be set otherwise"
        return f"{told}, {len(self.unread)} not read yet." if self.unread else f"{told}."

    @cached_property
    def unread(self) -> list[str]:
        """Stands of the trial whose heights are not read, so that no pack follows yet."""
        return [row.address for row in self.stands if row.quiet]

    @cached_property
    def groups(self) -> list[tuple[str, list[FieldLine], bool]]:
        """The fields, in their groups, each with today's value beside it; and whether a group is open."""
        more = {"Valve and seat": ["groove"], "Stand and gauge": ["gauge"]}
        found = []
        for title, specs in GROUPS:
            names = [*(spec.name for spec in specs), *more.get(title, [])]
            is_open = title in OPEN_AT_FIRST or any(name in self.form.typed for name in names)
            found.append((title, [self._line(name) for name in names], is_open))
        return found

    @property
    def lines(self) -> list[FieldLine]:
        """The fields, one after another."""
        return [line for _title, group, _open in self.groups for line in group]

    @cached_property
    def drawn(self) -> str:
        """Address of the valve that the drawings are of: the first that the trial is for."""
        return next(iter(self.tried.outcomes), "")

    @property
    def drawing_version(self) -> str:
        """Changes whenever the drawings do, so that a browser may keep them until then."""
        outcome = self.tried.outcomes.get(self.drawn)
        return f"{zlib.crc32(repr((outcome, self.unit)).encode()):08x}"

    @cached_property
    def covered(self) -> dict[str, ValveToday]:
        """The valves that it is for."""
        return self.today.covered(self.form.at)

    def _line(self, name: str) -> FieldLine:
        errors = self.form.errors.get(name)
        return FieldLine(self.form, name, self._today(name), str(errors[0]) if errors else "")

    def _today(self, name: str) -> str:
        """today 0.700 in, cam card."""
        if name == "groove":
            return ""
        if name in BY_CHANGE:
            return "today: as it is"
        if name == "gauge":
            return f"today {self.today.gauge}" if self.today.gauge else "no gauge in the drawer"
        attribute, times = TODAY_AS.get(name, (name, 1))
        found = [valve for valve in self.covered.values() if getattr(valve.setup, attribute) is not None]
        if not found:
            return "not in the records"
        values = [getattr(valve.setup, attribute) * times for valve in found]
        spec = SPECS[name]
        unit = unit_for(spec.kind, self.unit)
        low, high = show(min(values), unit), show(max(values), unit)
        told = low if low == high else f"{low} to {high}"
        sources = dict.fromkeys(valve.sources.get(attribute, "") for valve in found)
        told += f"{'' if unit == '°' else ' '}{spec.shown_unit or unit}"
        return ", ".join(filter(None, [f"today {told}", " and ".join(filter(None, sources))]))


TODAY_AS = {"net_lift": ("lift", 1), "tip_diameter": ("tip_radius", 2), "shaft_diameter": ("shaft_radius", 2)}
UNTOLD = {"pushrod_spare", "pushrod_length", "pushrod_change"}
OPEN_AT_FIRST = {"Lift", "Valve and seat"}
BY_CHANGE = {"longer_valve", "lash_cap", "deeper_seat"}
