"""What a witness mark says, in sentences and in the reader's own unit; nothing here asks the database."""

from builds.measures import show
from builds.uncertainty import plus_minus
from builds.verdicts import IN, OUT
from valvetrain.acts import high_or_low
from valvetrain.geometry.errors import GeometryError
from valvetrain.mark_heights import (
    ByEnds,
    by_ends,
    by_width,
    ends_beside_gauge,
    narrowest,
    too_narrow,
    too_wide,
    width_beside_gauge,
)
from valvetrain.marks import MarkState
from valvetrain.packwords import amount


def as_read(length: float, unit: str) -> str:
    """A length on a tip without its sign, to what a mark is read to: 0.036 in, 0.92 mm."""
    return show(abs(length), unit, 3 if unit == "in" else 2, with_unit=True)


def place_words(at: float, unit: str) -> str:
    """A place on the tip in words.

    >>> place_words(0.009, "in"), place_words(-0.0002, "in")
    ('0.009 in outboard', 'on the centre line')
    """
    words = as_read(at, unit)
    if not words.strip("0. inm"):
        return "on the centre line"
    return f"{words} {'outboard' if at > 0 else 'toward the shaft'}"


def with_doubt(words: str, expanded: float | None, unit: str) -> str:
    """An amount with how well it is known behind it."""
    return words if expanded is None else f"{words}, {plus_minus(expanded, unit)}"


def width_words(mark: MarkState, unit: str) -> str:
    """The width against what is expected."""
    if mark.width is None:
        return ""
    if not mark.possible:
        return (
            f"{mark.address}: the outer edge lies no further out than the inner one. Minus is toward the shaft: read "
            "both again."
        )
    told = with_doubt(f"The mark is {as_read(mark.width, unit)} wide", mark.expanded("width"), unit)
    parts = []
    if mark.expected is not None:
        parts.append(f"{as_read(mark.expected, unit)} at the right height")
    if mark.expected_now is not None:
        parts.append(f"{as_read(mark.expected_now, unit)} at the height that the gauge read")
    return f"{told}; to expect: {', '.join(parts)}." if parts else f"{told}."


def height_lines(mark: MarkState, unit: str) -> list[str]:
    """What height the mark comes to, and that the gauge decides."""
    if not mark.possible:
        return []
    lines = [*_by_width_lines(mark, unit), *_ends_lines(mark, unit), *_gauge_lines(mark, unit)]
    return lines


def _by_width_lines(mark: MarkState, unit: str) -> list[str]:
    short, least = too_narrow(mark), narrowest(mark)
    if short is not None and least is not None:
        lift = mark.valve.inputs.lift or 0.0
        return [
            f"The mark is {as_read(short, unit)} narrower than a lift of {amount(lift, unit)} can make "
            f"({as_read(least, unit)} at least): the reading or the lift is wrong. Read both again."
        ]
    if too_wide(mark):
        return [
            "No height of this arm makes so wide a mark: read it again, and look at the arm length and the lift."
        ]
    found = by_width(mark)
    if found is None:
        return [mark.valve.problem] if mark.valve.problem else []
    if found.tells_nothing:
        known = plus_minus(found.expanded or 0.0, unit)
        told = f"By its width the shaft stands at its height, as near as a width tells: {known}."
    else:
        told = (
            f"By its width the shaft stands {_either(found.if_high, found.if_low, unit)}"
            f"{'' if found.expanded is None else f', each {plus_minus(found.expanded, unit)}'}: the width alone does not "
            "tell which."
        )
    return [told, coarse_words(found.factor, found.width_expanded, unit)]


def _either(if_high: float, if_low: float, unit: str) -> str:
    return f"{high_or_low(if_high, unit)} or {high_or_low(if_low, unit)}"


def coarse_words(factor: float, width_expanded: float | None, unit: str) -> str:
    """That a mark is a coarse gauge, in numbers."""
    # Where nothing is known of the mark, what a scale under a loupe mostly comes to.
    width = 0.005 if width_expanded is None else width_expanded
    return (
        f"{_capital(plus_minus(width, unit))} of mark is {plus_minus(width * factor, unit)} of height: the mark proves, "
        "the gauge decides."
    )


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _ends_lines(mark: MarkState, unit: str) -> list[str]:
    try:
        found = by_ends(mark)
    except GeometryError as error:
        return [f"{mark.address}: {error}."]
    if found is None or mark.closed is None or mark.open is None:
        return []
    where = f"Closed {place_words(mark.closed, unit)}, at full lift {place_words(mark.open, unit)}"
    return [f"{where}: {_rolls(found, unit)}."]


def _rolls(found: ByEnds, unit: str) -> str:
    """The way that the contact runs, and the side that this puts the shaft on."""
    known = "" if found.expanded is None else f", {plus_minus(found.expanded, unit)}"
    apart_known = found.apart_expanded or 0.0
    if abs(found.apart) <= apart_known:
        way = "it ends where it began, as near as that tells"
    elif found.apart > 0:
        way = "it starts drawn in and rolls out, and does not come all the way back"
    else:
        way = "it starts further out and ends drawn in toward the shaft"
    if found.expanded is None:
        told = high_or_low(found.height_error, unit)
        return f"{way}; by that the shaft stands {told}, but how well the two ends are known is not told"
    if not found.side:
        return f"{way}, so the shaft stands at its height{known}"
    return f"{way}, so the shaft stands {found.side}: {high_or_low(found.height_error, unit)}{known}"


def _gauge_lines(mark: MarkState, unit: str) -> list[str]:
    """The mark beside the gauge: whether the two agree. A mark from before the last work is beside nothing."""
    if mark.again:
        return []
    error = mark.valve.height_error
    if error is None:
        return [
            "No height is read by the gauge as the stand stands now: read it. A mark alone decides nothing."
        ]
    told = high_or_low(error, unit)
    gauge = with_doubt(f"The gauge says {told}", mark.valve.expanded, unit)
    try:
        ends = by_ends(mark)
    except GeometryError:
        ends = None
    found = [
        ("wide", width_beside_gauge(mark)),
        ("ends", None if ends is None else ends_beside_gauge(mark, ends)),
    ]
    known = [(kind, each) for kind, each in found if each is not None]
    apart = [(kind, each) for kind, each in known if each.agrees is False]
    if not apart:
        if any(each.agrees is None for _kind, each in known):
            return [
                f"{gauge}. How well the two agree cannot be told: name the tool that the mark was read with."
            ]
        return [f"{gauge}: the mark agrees, within what both are known to."]
    kind, each = apart[0]
    if kind == "wide":
        way = "wider" if each.difference > 0 else "narrower"
        what = f"the mark is {as_read(each.difference, unit)} {way} than that makes"
    else:
        way = "higher" if each.difference > 0 else "lower"
        what = f"the ends of the mark put it {amount(each.difference, unit)} {way}"
    beyond = plus_minus(each.expanded or 0.0, unit)
    return [f"{gauge}; {what}, beyond {beyond}: read the height again, and look at the lift."]


def centre_words(mark: MarkState, unit: str) -> str:
    """Where the middle of the mark lies, and whether that is acceptable."""
    if mark.centre is None or not mark.possible:
        return ""
    place = with_doubt(f"Its middle lies {place_words(mark.centre, unit)}", mark.expanded("centre"), unit)
    verdict = mark.verdict("centre")
    limit = mark.limits.get("mark_centre")
    within = "" if limit is None or limit.high is None else f" of {amount(limit.high, unit)}"
    if verdict == IN:
        return f"{place}: within the limit{within}, acceptable as it is. Height outranks centring."
    if verdict == OUT:
        return f"{place}: beyond the limit{within}."
    return f"{place}: too near the limit{within} to call." if verdict else f"{place}."


def room_words(mark: MarkState, unit: str) -> str:
    """How much tip is left beside the mark."""
    if mark.edge_room is None or not mark.possible:
        return ""
    if mark.edge_room < 0:
        return f"An edge lies {as_read(mark.edge_room, unit)} past the tip’s rim: read it again, from the centre line."
    told = f"From the mark to the tip’s rim it is {as_read(mark.edge_room, unit)} at the least"
    limit = mark.limits.get("mark_edge")
    asked = "" if limit is None or limit.low is None else f", {amount(limit.low, unit)} is asked"
    return f"{told}{asked}."


def shape_words(mark: MarkState, unit: str) -> str:
    """The mark's shape: even, heavy front, heavy rear."""
    front, rear = mark.value("mark_front_width"), mark.value("mark_rear_width")
    if front is None or rear is None:
        return ""
    told = f"front half {as_read(front, unit)}, rear half {as_read(rear, unit)}"
    if mark.shape == "even":
        return f"Even: {told}."
    side = mark.shape.removeprefix("heavy ")
    return (
        f"Heavy {side}: {told}. The tip is canted to the roller: look whether stand and rocker sit square before "
        "anything is moved."
    )
