"""What of as found beside as built a page shows, and in which order: as chosen above the table."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from urllib.parse import urlencode

from builds.comparing import Compared, by_moved

MOVED, ADDRESS = "moved", "address"
ORDERS = {MOVED: "what moved most", ADDRESS: "by address"}
LONGEST = 40


@dataclass(frozen=True)
class Chosen:
    """The lines that were asked for, and what was asked."""

    lines: list[Compared]
    order: str
    step: str
    position: str
    out_only: bool

    @property
    def kept(self) -> str:
        """The choices as they stand in an address."""
        asked = {
            "order": self.order,
            "step": self.step,
            "at": self.position,
            "out": "yes" if self.out_only else "",
        }
        return urlencode({name: value for name, value in asked.items() if value})

    @property
    def narrowed(self) -> bool:
        """Whether some lines are left out."""
        return bool(self.step or self.position or self.out_only)


@dataclass(frozen=True)
class Choices:
    """What may be chosen: orders, steps and addresses, as (value, words)."""

    orders: list[tuple[str, str]]
    steps: list[tuple[str, str]]
    positions: list[str]


def choose(asked: Mapping[str, str], lines: Iterable[Compared]) -> Chosen:
    """Read the choices of an address; what is no choice counts as none."""
    order = asked.get("order", MOVED)
    step, position, out_only = (
        asked.get("step", "")[:LONGEST],
        asked.get("at", "")[:LONGEST],
        asked.get("out") == "yes",
    )
    found = [
        line
        for line in lines
        if step in ("", line.step) and position in ("", line.position) and (line.out_now or not out_only)
    ]
    order = order if order in ORDERS else MOVED
    return Chosen(by_moved(found) if order == MOVED else found, order, step, position, out_only)


def choices_of(lines: Iterable[Compared]) -> Choices:
    """The steps and addresses that there is anything of."""
    rows = list(lines)
    in_order = sorted(rows, key=lambda line: line.order)
    steps = dict.fromkeys((line.step, line.step_name) for line in in_order)
    return Choices(list(ORDERS.items()), list(steps), list(dict.fromkeys(line.position for line in rows)))
