"""The head in plan for paper: the layout that the screen uses, in a few strokes, with a sign for each state.

A screen's plan is made to be touched; this one to be printed, so that a printer draws a handful of paths.
"""

from collections.abc import Iterable, Mapping
from html import escape

from valvetrain.charts.numbers import Drawing
from valvetrain.charts.style import DYE, GRAPHITE, HAIR
from valvetrain.plan import Plan
from valvetrain.planshapes import Box, Point, Target

# A sign about a point, and its word. Shapes differ, so that it reads in black and white.
SIGNS = {
    "is-done": ("m-7 0l5 6 9-13", "in"),
    "is-out": ("m-7-7l14 14m0-14l-14 14", "out"),
    "is-look": ("m0-8l8 15h-16zm0 5v5", "look again"),
    "is-todo": ("m-6 0a6 6 0 0 0 12 0a6 6 0 0 0-12 0", "to do"),
}


def plan_drawing(plan: Plan, states: Mapping[str, str], title: str) -> Drawing:
    """Draw a head in plan with the state of every stand and valve."""
    rockers = [f"M{_at(valve.rocker[0])}L{_at(valve.rocker[1])}" for valve in plan.valves]
    pads = [pad for stand in plan.stands for pad in stand.pads]
    parts = [
        _path((_rounded(plan.outline, 16),), HAIR, 1.6),
        _path((_circle(c.centre, c.radius) for c in plan.cylinders), HAIR, 1, dash="14 4 3 4"),
        _path((f"M{_at(t.leader[0])}L{_at(t.leader[1])}" for t in plan.targets), DYE, 1),
        _path(("M" + "L".join(_at(p) for p in stand.outline) + "z" for stand in plan.stands), GRAPHITE, 1.6, fill="#fff"),
        _path((f"M{_at(s.shaft[0])}L{_at(s.shaft[1])}" for s in plan.stands), GRAPHITE, 1, dash="14 4 3 4"),
        _path(
            (_circle(pad.centre, r) for pad in pads for r in (pad.radius, pad.bolt_radius)),
            GRAPHITE, 1.2,
        ),
        _path(rockers, GRAPHITE, 19, more='stroke-linecap="round"'),
        _path(rockers, "#fff", 16, more='stroke-linecap="round"'),
        _path((_circle(v.centre, v.radius) for v in plan.valves), GRAPHITE, 1.6, fill="#fff"),
        _path((f"M{_at(v.centre)}m-16 0h32m-16-16v32" for v in plan.valves), GRAPHITE, 0.8),
        *_balloons(plan.targets, states),
        *_legend(plan, set(states.values())),
    ]  # fmt: skip
    words = _words(plan.targets, states)
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{plan.width:g}" height="{plan.height + 26:g}" '
        f'viewBox="0 0 {plan.width:g} {plan.height + 26:g}" font-family="Plex" fill="none" role="img">'
        f"<title>{escape(title)}</title><desc>{escape(words)}</desc>{''.join(parts)}</svg>"
    )
    return Drawing(svg=svg, title=title, words=words)


def _balloons(targets: Iterable[Target], states: Mapping[str, str]) -> Iterable[str]:
    targets = list(targets)
    boxes: dict[bool, list[str]] = {False: [], True: []}
    for target in targets:
        boxes[states.get(target.address) == "is-out"].append(
            _rounded(target.box, 38 if target.kind == "valve" else 4)
        )
    yield _path(boxes[False], GRAPHITE, 1.6, fill="#fff")
    yield _path(boxes[True], GRAPHITE, 5, fill="#fff")
    signs = []
    for target in targets:
        x, y = target.box.centre
        sign = SIGNS.get(states.get(target.address, ""))
        signs += [f"M{x:g} {y + 16:g}{sign[0]}"] if sign else []
        yield _text(x, y - 2 if sign else y + 8, target.address, "middle", 23)
    yield _path(signs, GRAPHITE, 2.8)


def _legend(plan: Plan, used: set[str]) -> Iterable[str]:
    x, y = plan.width / 2 - 200, plan.height + 12
    for state, (sign, word) in SIGNS.items():
        if state in used:
            yield _path((f"M{x:g} {y:g}{sign}",), GRAPHITE, 2.4)
            yield _text(x + 16, y + 6, word, "start", 17)
            x += 52 + 10 * len(word)


def _words(targets: Iterable[Target], states: Mapping[str, str]) -> str:
    told = ", ".join(
        f"{target.address} {SIGNS[states[target.address]][1]}"
        for target in targets
        if states.get(target.address) in SIGNS
    )
    return f"The head in plan: {told}." if told else "The head in plan."


def _path(
    strokes: Iterable[str], color: str, width: float, *, dash: str = "", fill: str = "none", more: str = ""
) -> str:
    drawn = "".join(strokes)
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<path d="{drawn}" stroke="{color}" stroke-width="{width}" fill="{fill}"{dashes} {more}/>'
        if drawn
        else ""
    )


def _text(x: float, y: float, words: str, anchor: str, size: int) -> str:
    return (
        f'<text x="{x:g}" y="{y:g}" font-size="{size}" font-weight="600" fill="{GRAPHITE}" text-anchor="{anchor}">'
        f"{escape(words)}</text>"
    )


def _at(point: Point) -> str:
    return f"{point.x:g} {point.y:g}"


def _circle(centre: Point, radius: float) -> str:
    half = f"a{radius:g} {radius:g} 0 1 0"
    return f"M{centre.x - radius:.1f} {centre.y:g}{half} {2 * radius:g} 0{half}-{2 * radius:g} 0z"


def _rounded(box: Box, radius: float) -> str:
    """A box with round corners, clockwise from its upper left."""
    r = min(radius, box.w / 2, box.h / 2)
    w, h, corner = box.w - 2 * r, box.h - 2 * r, f"a{r:g} {r:g} 0 0 1"
    start = f"M{box.x + r:.1f} {box.y:g}h{w:.1f}{corner} {r:g} {r:g}v{h:.1f}{corner}-{r:g} {r:g}"
    return f"{start}h-{w:.1f}{corner}-{r:g}-{r:g}v-{h:.1f}{corner} {r:g}-{r:g}z"
