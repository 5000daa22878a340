"""Worksheet, part 1: the valve's lift as the linkage makes it, the ratio through it, and the pushrod's length."""

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

import numpy as np

from valvetrain.geometry.cam import net_lift
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.height import target_height
from valvetrain.geometry.linkage import PushrodLinkage
from valvetrain.geometry.pushrod import MeasuredRatio, measured_ratio
from valvetrain.steps import pushrod_to_order
from valvetrain.worksheet import Case
from valvetrain.worksheet_words import Letters, Part, sentence

STEPS = 11
# What a pushrod, a lash and a stand are tried longer, wider and higher by [in].
LONGER = (-0.050, -0.020, 0.0, 0.020, 0.050)
HIGHER = (-0.020, -0.010, 0.0, 0.010, 0.020)
LASHES = (0.0, 0.010, 0.020, 0.030)
Pair = tuple[float, float]


def lift_part(case: Case, pairs: Sequence[Pair], letters: Letters) -> Part:
    """The first part; `pairs` are lobe lift and valve lift as read [in]."""
    part = Part("lift", "Lift, ratio and pushrod", drawn="ratio")
    _say_what_is_missing(case, part)
    try:
        linkage = case.linkage()
    except GeometryError as error:
        linkage = None
        part.problems.append(sentence(error))
    if linkage is not None and case.lobe_lift is not None:
        for write in (_through_the_lift, _pushrod, _effects):
            try:
                write(case, part, linkage, letters)
            except GeometryError as error:
                part.problems.append(sentence(error))
        _assume(case, part)
    try:
        _measured(part, pairs, linkage, letters)
    except GeometryError as error:
        part.problems.append(f"The pairs as read: {sentence(error)}")
    return part


def _say_what_is_missing(case: Case, part: Part) -> None:
    job = (case.build.pk,)
    if case.rockers is None:
        part.gap("The rockers of this valve are not entered.", "rocker-set-new", job, "Enter the rockers")
    if case.card is None:
        part.gap("There is no cam card.", "cam-card", job, "Enter the cam card")
    if case.pushrod_side is None:
        part.gap(
            "Where the pushrod and the lifter stand is not entered, so there is no lift through the linkage.",
            "worksheet-new",
            (case.build.pk, "pushrod"),
            "Enter the pushrod’s side",
        )


def _through_the_lift(case: Case, part: Part, linkage: PushrodLinkage, letters: Letters) -> None:
    top = case.lobe_lift or 0.0
    lobe = np.linspace(0.0, top, STEPS)
    valve, ratio = np.asarray(linkage.valve_lift(lobe)), np.asarray(linkage.ratio(lobe))
    arm, rod = np.asarray(linkage.arm_angle(lobe)), np.asarray(linkage.pushrod_angle(lobe))
    full = float(valve[-1])
    note = f"lobe {letters.length(top)} through the linkage, lash {letters.length(linkage.fitted_lash)} taken off"
    part.line("Net lift, worked through the linkage", letters.length(full), note)
    if case.inputs.lift is not None:
        beside = case.inputs.lift
        part.line(
            f"Net lift, {case.inputs.lift_source}",
            letters.length(beside),
            f"the linkage gives {letters.length(full - beside, sign=True)} against it",
        )
    if case.ratio is not None:
        simple = float(net_lift(top, case.ratio, lash=linkage.fitted_lash))
        part.line(
            "Lobe × nominal ratio − lash",
            letters.length(simple),
            f"nominal ratio {letters.ratio(case.ratio, 3)}",
        )
    mean = float(linkage.ratio_mean(top))
    part.line(
        "Ratio",
        f"{letters.ratio(float(ratio[0]))} on the seat, {letters.ratio(float(ratio[-1]))} at full lift",
        f"mean {letters.ratio(mean)}, most {letters.ratio(float(ratio.max()))}",
    )
    part.line(
        "Pushrod’s angle",
        f"{letters.angle(rod.min(), 2)} to {letters.angle(rod.max(), 2)}",
        "from the lifter’s bore, in space",
    )
    part.grid(
        "Through the lift",
        ("lobe lift", "valve lift", "ratio there", "arm from square", "pushrod’s angle"),
        [
            (
                letters.length(float(a), unit=False),
                letters.length(float(b), unit=False),
                letters.ratio(float(c)),
                letters.angle(float(d), 2),
                letters.angle(float(e), 2),
            )
            for a, b, c, d, e in zip(lobe, valve, ratio, arm, rod, strict=True)
        ],
        f"Lengths in {letters.length_word}.",
    )


def _pushrod(case: Case, part: Part, linkage: PushrodLinkage, letters: Letters) -> None:
    side = case.pushrod_side
    assert side is not None
    wanted = side.overall(float(linkage.pushrod_length_for()))
    how = "over both ends" if side.ends() is not None else "between ball centres: the balls are not entered"
    part.line("Pushrod for the stand’s right height, zero lash", letters.length(wanted), how)
    for name, length in (
        ("Pushrod in use", side.length_in_use),
        ("Pushrod as read in the log", _read_pushrod(case)),
    ):
        if length is None:
            continue
        given = float(length)
        part.line(name, letters.length(given), f"{_longer(given - wanted, letters)} than that")
    if side.length_in_use is None:
        part.gap(
            "The pushrod in use is not entered, so there is nothing to compare its length with.",
            "worksheet-edit",
            (side.build_id, "pushrod", side.pk),
            "Enter it",
        )


def _read_pushrod(case: Case) -> Decimal | None:
    """As read at this valve, with what the ends of the checking pushrod add."""
    return pushrod_to_order(case.values) if "pushrod_length" in case.values else None


def _longer(by: float, letters: Letters) -> str:
    if abs(by) < 5e-5:
        return "no longer and no shorter"
    return f"{letters.length(abs(by))} {'longer' if by > 0 else 'shorter'}"


def _effects(case: Case, part: Part, linkage: PushrodLinkage, letters: Letters) -> None:
    side, top = case.pushrod_side, case.lobe_lift or 0.0
    assert side is not None and case.inputs.arm is not None and case.inputs.lift is not None
    fitted = linkage.fitted_length
    lashes = np.asarray(linkage.lash_for_length(fitted + np.asarray(LONGER)))
    rows = []
    for longer, lash in zip(LONGER, lashes, strict=True):
        told = letters.length(float(lash), unit=False)
        lift = (
            letters.length(float(_with_lash(linkage, float(lash)).valve_lift(top)), unit=False)
            if lash >= -1e-9
            else "held open"
        )
        rows.append((letters.length(longer, sign=True, unit=False), told, lift))
    part.grid(
        "A longer or shorter pushrod, the adjuster left as it is",
        ("pushrod", "lash", "net lift"),
        rows,
        f"In {letters.length_word}, from the length that leaves the card’s lash. A lash below zero holds the valve open.",
    )
    part.grid(
        "Another lash, the pushrod or adjuster made to suit",
        ("lash", "net lift"),
        [
            (
                letters.length(lash, unit=False),
                letters.length(float(_with_lash(linkage, lash).valve_lift(top)), unit=False),
            )
            for lash in LASHES
        ],
        f"In {letters.length_word}.",
    )
    right = float(target_height(case.inputs.arm, case.inputs.lift, case.inputs.square_at))
    lengths = np.asarray(linkage.pushrod_length_for(right + np.asarray(HIGHER)))
    part.grid(
        "The stand off its right height",
        ("stand", "pushrod at zero lash"),
        [
            (
                letters.length(high, sign=True, unit=False),
                letters.length(side.overall(float(length)), unit=False),
            )
            for high, length in zip(HIGHER, lengths, strict=True)
        ],
        f"In {letters.length_word}; plus: the shaft stands high.",
    )


def _with_lash(linkage: PushrodLinkage, lash: float) -> PushrodLinkage:
    return replace(linkage, pushrod_length=None, lash=max(lash, 0.0))


def _measured(part: Part, pairs: Sequence[Pair], linkage: PushrodLinkage | None, letters: Letters) -> None:
    """The ratio as read at several lifts, and the linkage put through the same lobe lifts in the same way."""
    if not pairs:
        part.gap(
            "No lift is read at the lobe and the valve together, so there is no measured ratio to compare."
        )
        return
    lobes = [lobe for lobe, _valve in pairs]
    read = measured_ratio(lobes, [valve for _lobe, valve in pairs])
    part.line(
        "Ratio as measured",
        letters.ratio(read.ratio),
        f"{len(pairs)} pairs; the line through them shows a lash of "
        f"{letters.length(read.lash, sign=read.lash < 0)}",
    )
    same: MeasuredRatio | None = None
    worked: list[float] = []
    if linkage is not None:
        worked = [float(linkage.valve_lift(lobe)) for lobe in lobes]
        same = measured_ratio(lobes, worked)
        part.line(
            "Ratio worked the same way",
            letters.ratio(same.ratio),
            f"measured {read.ratio - same.ratio:+.4f} against it".replace("-", "−"),
        )
    part.grid(
        "The pairs, as read and as worked",
        ("lobe lift", "valve lift read", "worked", "read less worked", "off the line"),
        [
            (
                letters.length(lobe, unit=False),
                letters.length(valve, unit=False),
                letters.length(worked[place], unit=False) if worked else "–",
                letters.length(valve - worked[place], sign=True, unit=False) if worked else "–",
                letters.length(float(read.residuals[place]), sign=True, unit=False),
            )
            for place, (lobe, valve) in enumerate(pairs)
        ],
        f"In {letters.length_word}. Differences that bend are the linkage; differences that scatter are the readings.",
    )


def _assume(case: Case, part: Part) -> None:
    side = case.pushrod_side
    assert side is not None
    part.assume(
        "Rigid parts and a solid lifter.",
        "The stand at its right height and the lash of the card.",
        "The adjuster stays where it is on the rocker.",
        "The lifter stands where the checking pushrod found it, measured from the closed tip.",
    )
    if side.shaft_offset is None:
        part.assume("Shaft to valve axis as it is with the mark centred at the right height.")
    if side.ends() is None:
        part.assume("Pushrod lengths are taken between ball centres, since the balls are not entered.")
