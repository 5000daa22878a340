"""How shims and packs are called across the bench, and what a pack does to the drawer, in words."""

from collections import Counter
from collections.abc import Iterable, Sequence
from decimal import Decimal

from django.utils.timezone import localtime

from builds.measures import show
from valvetrain.drawer_count import DrawerRow, InDrawer
from valvetrain.models import FittedPack


def shim_words(pieces: Sequence[tuple[Decimal, int]], unit: str = "in") -> str:
    """A pack as it is called across the bench.

    >>> shim_words([(Decimal("0.015"), 2), (Decimal("0.002"), 1)])
    '.015 + .015 + .002'
    """
    names = [shim_name(thickness, unit) for thickness, count in pieces for _ in range(count)]
    return " + ".join(names) if names else "no shims"


def shim_name(thickness: Decimal, unit: str = "in") -> str:
    """One thickness without a leading zero, thousandths at least: .015, .0125; millimetres as they are."""
    text = show(thickness, unit)
    if unit == "in":
        text = text[:-1] if text.endswith("0") else text
        return text.removeprefix("0")
    return text


def amount(value: float | Decimal, unit: str) -> str:
    """An amount without a sign: 0.024 in, to a tenth of a thousandth only where it is not whole."""
    text = show(value if value >= 0 else -value, unit)
    if unit == "in" and text.endswith("0"):
        text = text[:-1]
    return f"{text} {unit}"


def pack_pieces(pack: FittedPack | None, pad: int | None = None) -> list[tuple[Decimal, int]]:
    """The pieces under a pad, thickest first; with no pad named those that are alike under every pad."""
    pieces = pack.pieces.all() if pack is not None else ()
    found: Counter[Decimal] = Counter()
    for piece in pieces:
        if piece.pad_id is None or piece.pad_id == pad:
            found[piece.thickness] += piece.count
    return sorted(found.items(), reverse=True)


def pack_words(pack: FittedPack | None, unit: str = "in") -> str:
    """A fitted pack as it is called: .015 + .010; where the pads differ, each pad's own."""
    if pack is None or not pack.differs:
        return shim_words(pack_pieces(pack), unit)
    pads = {piece.pad_id: piece.pad.letter for piece in pack.pieces.all() if piece.pad is not None}
    told = [
        f"pad {letter} {shim_words(pack_pieces(pack, pk), unit)}"
        for pk, letter in sorted(pads.items(), key=lambda item: item[1])
    ]
    rest = (
        f", the other pads {shim_words(pack_pieces(pack), unit)}" if _leaves_pads_out(pack, len(pads)) else ""
    )
    return ", ".join(told) + rest


def _leaves_pads_out(pack: FittedPack, named: int) -> bool:
    return named < len(pack.stand.pads.all())


def total_words(pack: FittedPack | None, unit: str = "in") -> str:
    """What a pack comes to: = 0.025 in; by micrometer with the difference. Nothing where the pads differ."""
    if pack is None or pack.differs:
        return ""
    nominal = pack.nominal()
    if pack.measured_total is None:
        return f" = {show(nominal, unit, with_unit=True)}" if nominal else ""
    told = f" = {show(pack.measured_total, unit, with_unit=True)} by micrometer"
    over = pack.measured_total - nominal
    if show(abs(over), unit).strip("0.") == "":
        return f"{told}, as its pieces say"
    return f"{told}, {amount(over, unit)} {'more' if over > 0 else 'less'} than its pieces say"


def lot_words(lot: Counter[Decimal], unit: str) -> str:
    """Pieces out of the drawer or back into it: 4 of .015, 2 of .010."""
    return ", ".join(
        f"{count} of {shim_name(thin, unit)}" for thin, count in sorted(lot.items(), reverse=True)
    )


def drawer_notes(taken: Counter[Decimal], drawer: Sequence[InDrawer], unit: str = "in") -> list[str]:
    """What taking these pieces does to the drawer: the last ones, fewer than the shop keeps, or a count that is off."""
    lines = {line.thickness: line for line in drawer}
    told = []
    for thickness, count in sorted(taken.items(), reverse=True):
        line, name = lines.get(thickness), shim_name(thickness, unit)
        if line is None:
            continue
        if line.off_by:
            told.append(off_by_words(line, unit))
        left = line.count - count
        if left <= 0:
            told.append(f"That takes the last {name} out of the drawer.")
        elif left < line.least:
            told.append(f"That leaves {left} of {name} in the drawer: the shop keeps at least {line.least}.")
    return told


def off_by_words(line: InDrawer, unit: str = "in") -> str:
    """The sentence for a thickness of which more was fitted than had been counted."""
    return f"The drawer’s count of {shim_name(line.thickness, unit)} is off by {line.off_by}: count it."


def low_words(lines: Iterable[InDrawer], unit: str = "in") -> list[str]:
    """What to say above the drawer: counts that are off, and thicknesses that run low; each thickness once."""
    told = []
    for line in dict.fromkeys(lines):
        if line.off_by:
            told.append(off_by_words(line, unit))
        if line.low:
            there = f"{line.count} left" if line.count else "none left"
            told.append(
                f"{shim_name(line.thickness, unit)} is low: {there}, the shop keeps at least {line.least}."
            )
    return told


def count_words(rows: Sequence[DrawerRow], unit: str = "in") -> str:
    """How the book comes by the number of pieces of one thickness."""
    if not rows:
        return ""
    line = rows[0].line
    oldest = min(rows, key=lambda row: row.stock.counted_at)
    counted = sum(row.stock.count for row in rows)
    moment = localtime(oldest.stock.counted_at)
    told = f"Counted {moment:%-d %b %Y, %H:%M}: {counted}. "
    if oldest.out > 0:
        told += f"Fitted since, less what came out: {oldest.out}. "
    elif oldest.out < 0:
        told += f"Came back out of packs since: {-oldest.out}. "
    if line.off_by:
        return told + off_by_words(line, unit)
    return f"{told}In the drawer now: {line.count}."
