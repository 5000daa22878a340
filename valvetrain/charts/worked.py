"""From the worksheet's case of one valve to the charts' numbers: ratio and load through the lift."""

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from valvetrain.charts.load import LoadNumbers
from valvetrain.charts.ratio import RatioNumbers
from valvetrain.geometry.loads import spring_load, tip_load
from valvetrain.worksheet import Case
from valvetrain.worksheet_running import assume, running, say_what_is_missing
from valvetrain.worksheet_words import Gap, Part


def ratio_of(case: Case, pairs: Iterable[tuple[float, float]], unit: str) -> RatioNumbers | str:
    """A valve's rocker from pushrod to tip; or what is missing, in words. Raises `GeometryError`.

    `pairs` are lobe lift and valve lift as read together [in].
    """
    lobe, lift = case.lobe_lift, case.inputs.lift
    if case.ratio is None or case.inputs.arm is None:
        return "Enter the rocker set first: its arm length, roller, shaft and ratio."
    if lobe is None or lift is None:
        return f"{case.valve.address}: enter the cam card, or measure the lift at lobe and valve."
    read = [*pairs]
    if "lobe_lift" in case.values and case.inputs.lift_count:
        read.append((lobe, lift))
    return RatioNumbers(
        lobe_lift=lobe,
        nominal=case.ratio,
        linkage=case.linkage(),
        measured=tuple((at, (valve_lift + case.lash) / at) for at, valve_lift in sorted(read) if at > 0),
        unit=unit,
        address=case.valve.address,
    )


def load_of(case: Case, speeds: Iterable[float], unit: str) -> LoadNumbers | list[Gap]:
    """A valve's loads through the lift; or what is missing. Raises `GeometryError`, or `TableRefused`."""
    part = Part("load", "Load at the tip through the lift")
    say_what_is_missing(case, part)
    found = running(case)
    if found is None or found.spring is None:
        return part.gaps
    assume(case, part, found)
    spring = found.spring
    angles = found.angles
    lifts = found.motion(angles, 1000.0).lift
    kept = lifts > 0.0
    if not kept.any():
        return [
            Gap(f"{case.valve.address}: the lash takes up the whole lift. Check the lash and the lobe lift.")
        ]
    by_speed = []
    for rpm in speeds if found.mass is not None else ():
        moving = found.motion(angles, rpm)
        load = tip_load(
            moving.lift, seat_load=spring.seat_load, spring_rate=spring.rate, acceleration=moving.acceleration,
            mass=found.mass or 0.0,
        )  # fmt: skip
        by_speed.append((rpm, _floats(np.asarray(load)[kept])))
    limit = found.limit()
    nose = found.lobe.nose_at
    return LoadNumbers(
        angles=_floats(angles[kept] - nose),
        lifts=_floats(lifts[kept]),
        spring=_floats(
            np.asarray(spring_load(lifts, seat_load=spring.seat_load, spring_rate=spring.rate))[kept]
        ),
        by_speed=tuple(by_speed),
        ends=(limit.rpm, limit.crank_angle - nose) if limit is not None else None,
        assumed=" ".join(part.assumed),
        unit=unit,
        address=case.valve.address,
    )


def _floats(values: NDArray[np.float64]) -> tuple[float, ...]:
    return tuple(float(value) for value in values)
