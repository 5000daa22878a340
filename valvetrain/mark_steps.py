"""The witness mark as a step of the log: where its edges lie on the tip, and what follows from them."""

from collections.abc import Callable, Sequence
from decimal import Decimal
from math import fsum, hypot, sqrt

from builds.characteristics import Characteristic
from builds.limits import LimitFor
from builds.logcells import sayings
from builds.models import Reading
from builds.steps import Derived, ReadBy, Step, Values, register_step
from builds.uncertainty import mostly_read_with, scatter

STEP_KEY = "marks"
# After the stand heights, which it proves; before the pushrods, which hang on both.
ORDER = 25
FARTHEST = Decimal("0.35")
# A width that nobody can read; an edge this far past the tip's rim is a slip, not a worn rim [in].
NARROWEST = Decimal("0.001")
PAST_THE_RIM = Decimal("-0.010")


def _edge(key: str, name: str, how: str) -> Characteristic:
    return Characteristic(
        key=key, name=name, applies_to="valve", how_measured=how, low=-FARTHEST, high=FARTHEST, signed=True,
        drawing="mark-edges",
    )  # fmt: skip


def _width(key: str, name: str, how: str) -> Characteristic:
    return Characteristic(
        key=key, name=name, applies_to="valve", how_measured=how, low=Decimal("0.005"), high=Decimal("0.3"),
        drawing="mark-taper",
    )  # fmt: skip


MARK_INNER = _edge(
    "mark_inner", "inner edge",
    "With a scale under a loupe, or a caliper: from the tip’s centre line to the edge nearer the shaft; minus where that "
    "edge lies toward the shaft.",
)  # fmt: skip
MARK_OUTER = _edge(
    "mark_outer", "outer edge",
    "With a scale under a loupe, or a caliper: from the tip’s centre line to the edge away from the shaft; minus where "
    "even that edge lies toward the shaft.",
)  # fmt: skip
MARK_CLOSED = _edge(
    "mark_closed", "contact, closed",
    "Ink the tip, and rock the arm a little with the valve closed: from the centre line to the line it leaves; minus "
    "toward the shaft.",
)  # fmt: skip
MARK_OPEN = _edge(
    "mark_open", "contact, full lift",
    "Ink the tip, and rock the arm a little at full lift: from the centre line to the line it leaves; minus toward the "
    "shaft.",
)  # fmt: skip
MARK_FRONT = _width(
    "mark_front_width", "width, front half",
    "Across the mark, half-way between the tip’s centre and its rim, on the side toward the front of the engine.",
)  # fmt: skip
MARK_REAR = _width(
    "mark_rear_width", "width, rear half",
    "Across the mark, half-way between the tip’s centre and its rim, on the side toward the rear of the engine.",
)  # fmt: skip
# As the fields stand in two lines: the edges and a half, the ends and the other half.
MARKS = (MARK_INNER, MARK_OUTER, MARK_FRONT, MARK_CLOSED, MARK_OPEN, MARK_REAR)
MARK_KEYS = tuple(mark.key for mark in MARKS)
EDGES = (MARK_INNER.key, MARK_OUTER.key)


def mark_width(values: Values) -> Decimal:
    """Outer edge less inner edge [in]: how far the contact sweeps."""
    return values["mark_outer"] - values["mark_inner"]


def mark_centre(values: Values) -> Decimal:
    """Middle of the mark from the tip's centre line [in]; plus: outboard, away from the shaft."""
    return (values["mark_inner"] + values["mark_outer"]) / 2


def mark_edge_room(values: Values) -> Decimal:
    """Least room [in] between the mark and the tip's rim, on the line through the tip's centre."""
    return values["valve_tip_radius"] - max(abs(values["mark_inner"]), abs(values["mark_outer"]))


def mark_taper(values: Values) -> Decimal:
    """Width of the front half less that of the rear half [in]; plus: heavy at the front."""
    return values["mark_front_width"] - values["mark_rear_width"]


def shape_of(taper: Decimal | float, limit: LimitFor | None) -> str:
    """The mark's shape in the trade's words: even while its taper lies within the limit.

    >>> shape_of(Decimal("0.004"), LimitFor(Decimal("-0.010"), Decimal("0.010"), "shop")), shape_of(-0.02, None)
    ('even', 'heavy rear')
    """
    value = Decimal(repr(taper)) if isinstance(taper, float) else taper
    if not value or (limit is not None and limit.holds(value)):
        return "even"
    return "heavy front" if value > 0 else "heavy rear"


def _shape_said(value: Decimal, _unit: str, limit: LimitFor | None) -> str:
    return shape_of(value, limit)


def together(inner: float, outer: float) -> Callable[[ReadBy], float | None]:
    """How well inner·(inner edge) + outer·(outer edge) is known where both edges were measured on the same photos.

    Both hang on the same rim and the same scale, so that what one of them is out the other may be as well: their
    covariance is kept with each. None where the edges were read one by one.
    """

    def standard(read: ReadBy) -> float | None:
        pairs = pairs_of(read.get(EDGES[0], ()), read.get(EDGES[1], ()))
        if not pairs:
            return None
        variances = []
        for one, _other in pairs:
            (a, b), (_b, c) = covariance_of(one)
            variances.append(inner * inner * a + 2 * inner * outer * b + outer * outer * c)
        own = sqrt(max(fsum(variances), 0.0)) / len(pairs)
        figures = [inner * float(one.value or 0) + outer * float(other.value or 0) for one, other in pairs]
        return hypot(own, scatter(figures) or 0.0)

    return standard


def pairs_of(inner: Sequence[Reading], outer: Sequence[Reading]) -> list[tuple[Reading, Reading]]:
    """Both edges photo by photo; none at all where any edge has no covariance, or no partner on its photo."""
    partners = {reading.photo_id: reading for reading in outer if reading.photo_id is not None}
    if len(inner) != len(outer) or len(partners) != len(outer):
        return []
    found = [(one, partners[one.photo_id]) for one in inner if one.photo_id in partners]
    kept = len({one.photo_id for one, _other in found}) == len(inner) and all(_kept(one) for one, _ in found)
    return found if kept else []


def _kept(reading: Reading) -> bool:
    return bool((reading.context.get("mark") or {}).get("covariance"))


def covariance_of(reading: Reading) -> list[list[float]]:
    """Covariance [in²] of inner and outer edge, in this order, as it is kept with a reading from a photo."""
    return [[float(each) for each in row] for row in reading.context["mark"]["covariance"]]


LEAD = (
    "Ink the tip, turn the engine two full turns, and read where the mark lies: from the tip’s centre line, plus "
    "outboard, minus toward the shaft. The mark proves; the gauge decides."
)
CAUTION = (
    "Turn the engine by hand, plugs out, fingers clear. Relieving a stand’s holes weakens it: little, deburred, washers "
    "checked."
)
WIDTH_STANDARD = together(-1.0, 1.0)
CENTRE_STANDARD = together(0.5, 0.5)


def register_mark_step() -> None:
    """Put the witness mark's step into the registry."""
    sayings["mark_taper"] = _shape_said
    mostly_read_with.update(dict.fromkeys(MARK_KEYS, "scale"))
    register_step(
        Step(
            STEP_KEY, "witness marks", "valve", order=ORDER, lead=LEAD, caution=CAUTION,
            measured=MARKS, optional=frozenset(MARK_KEYS) - set(EDGES),
            derived=(
                Derived(
                    "mark_width", "width", EDGES, mark_width, "outer edge − inner edge", limit_key="sweep", low=NARROWEST,
                    standard=WIDTH_STANDARD,
                    unlikely="the outer edge lies no further out than the inner one: minus is toward the shaft. Read "
                    "both again.",
                ),
                Derived(
                    "mark_centre", "centre", EDGES, mark_centre, "middle of the two edges; plus: outboard",
                    limit_key="mark_centre", standard=CENTRE_STANDARD,
                ),
                Derived(
                    "mark_edge_room", "room to the rim", (*EDGES, "valve_tip_radius"), mark_edge_room,
                    "half the tip’s diameter − the edge further from its centre", limit_key="mark_edge",
                    low=PAST_THE_RIM,
                    unlikely="an edge lies past the tip’s rim: read it again, from the tip’s centre line.",
                ),
                Derived(
                    "mark_taper", "taper", (MARK_FRONT.key, MARK_REAR.key), mark_taper,
                    "front half − rear half; even within the limit", limit_key="mark_taper",
                ),
            ),
        )
    )  # fmt: skip
