"""What is to be said of centring a stand: why not yet, how far, what it leaves, and what the bolt holes lose."""

from dataclasses import dataclass, field

from builds.uncertainty import plus_minus
from builds.verdicts import IN
from valvetrain.acts import high_or_low
from valvetrain.centring import Centring
from valvetrain.markwords import place_words
from valvetrain.packwords import amount
from valvetrain.standstate import StandState
from valvetrain.status import STATUS_WORDS, Status

MIND = (
    "Relieving a stand’s holes weakens it: little, deburred, washers checked. The stand maker’s word on how much comes "
    "first."
)


@dataclass(frozen=True)
class CentringTold:
    """Centring a stand in words. `offered`: there is a slide to make."""

    headline: str
    lines: list[str] = field(default_factory=list)
    caution: str = ""
    offered: bool = False


def centring_words(centring: Centring, unit: str) -> CentringTold:
    """What centring this stand asks, in the reader's unit."""
    if not centring.height_is_right:
        return CentringTold(
            f"Height first: {how_it_stands(centring.stand)}.",
            [*_height_lines(centring, unit), HEIGHT_OUTRANKS],
        )
    missing = [*(f"read the mark of {each}" for each in centring.unread)]
    missing += [f"ink {each} and read it again" for each in centring.stale]
    if missing:
        return CentringTold(f"Before centring {centring.address}: {', '.join(missing)}.")
    if not centring.needed:
        return CentringTold(
            "The marks lie within the limit: acceptable, and no slide is needed. Height outranks centring.",
            _middles(centring, unit),
        )
    way = "toward the valve" if centring.move > 0 else "away from the valve"
    known = "" if centring.expanded is None else f", {plus_minus(centring.expanded, unit)}"
    return CentringTold(
        f"Move {centring.address} {amount(centring.move, unit)} {way}{known}.",
        [*_leaves(centring, unit), *_slide_lines(centring, unit), *_hole_lines(centring, unit), AFTER],
        caution=MIND,
        offered=True,
    )


def how_it_stands(stand: StandState) -> str:
    """How a stand's height stands, in a clause: L.stand2 is out; look at L.stand2 again."""
    if stand.status == Status.LOOK:
        return f"look at {stand.address} again"
    verb = "" if stand.status == Status.WAIT else "is "
    return f"{stand.address} {verb}{STATUS_WORDS[stand.status]}"


HEIGHT_OUTRANKS = (
    "Centring is worked out once every valve of the stand is in by the gauge: a centred mark at the wrong height is not "
    "right, a mark off centre at the right height may be."
)
AFTER = "Afterwards read the height again, ink the tips, and read the marks again."


def _height_lines(centring: Centring, unit: str) -> list[str]:
    stand = centring.stand
    told = [
        f"{valve.address} {high_or_low(valve.height_error, unit)}"
        for valve in stand.valves
        if valve.height_error is not None and valve.verdict != IN
    ]
    if stand.status in (Status.READ, Status.PROVE):
        told += [f"{valve.address} not read" for valve in stand.valves if not valve.reads]
    return [f"{', '.join(told)}."] if told else list(stand.changed)


def _middles(centring: Centring, unit: str) -> list[str]:
    told = [f"{mark.address} {place_words(mark.centre or 0.0, unit)}" for mark in centring.marks]
    return [f"Middle of the mark: {', '.join(told)}."]


def _leaves(centring: Centring, unit: str) -> list[str]:
    told = ", ".join(f"{mark.address} {place_words(left, unit)}" for mark, left in centring.left)
    lines = [f"It leaves {told}."]
    if centring.still_out:
        names = " and ".join(centring.still_out)
        lines.append(
            f"One stand cannot centre both: {names} would still lie beyond the limit. Look whether the valves lean, or a "
            "rocker sits aside on its shaft."
        )
    return lines


def _slide_lines(centring: Centring, unit: str) -> list[str]:
    """Along the pad; on a tilted one what that does to the height, and the pack that keeps it."""
    if not centring.tilted:
        return ["The pads are level with the tip: sliding along them leaves the height as it is."]
    slide = centring.slide
    change, alone = float(slide.pack_change), float(slide.height_change)
    pack = "thicker" if change > 0 else "thinner"
    way = "raises" if alone > 0 else "lowers"
    lines = [
        f"On pads tilted {abs(centring.tilt):g}° a slide alone ({amount(float(slide.slide_alone), unit)} along the pad) "
        f"{way} the shaft {amount(alone, unit)}.",
        f"To keep the height: slide {amount(float(slide.slide), unit)} along the pad with a pack "
        f"{amount(change, unit)} {pack} ({amount(max(centring.pack_after, 0.0), unit)} in all).",
    ]
    if centring.pack_after < 0:
        lines[-1] = (
            f"To keep the height the pack would have to be {amount(change, unit)} thinner, and there is not so much: "
            "slide less, or leave the mark where it is."
        )
    return lines


def _hole_lines(centring: Centring, unit: str) -> list[str]:
    """What the slide asks of the bolt holes."""
    slide = amount(float(centring.slide.slide), unit)
    relief = centring.relief
    if relief is None:
        return [
            f"The bolt holes of {centring.address} are not entered, so the play in them is not known: with none, relieve "
            f"them by {slide}. Enter the hole on the stand’s page."
        ]
    play = f"The bolts have {amount(float(relief.play), unit)} of play either way"
    if float(relief.relief) <= 0:
        return [f"{play}: enough for the slide of {slide}, without relieving a hole."]
    # The side of the hole that the slide brings to the bolt.
    side = "away from the valve" if centring.move > 0 else "toward the valve"
    return [
        f"{play}: relieve each hole by {amount(float(relief.relief), unit)} on its side {side}. The bolt then has "
        f"{amount(float(relief.clearance), unit)} of room along the slide."
    ]
