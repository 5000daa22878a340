"""The valvetrain's steps of the log, beside the stand height itself, which has the bench."""

from decimal import Decimal

from builds.characteristics import Characteristic
from builds.checks import check_steps
from builds.limits import LimitFor, limit_providers, split_limits
from builds.logcells import sayings
from builds.measures import show
from builds.steps import (
    Correction,
    Derived,
    Step,
    Values,
    again_providers,
    beside_providers,
    context_providers,
    note_providers,
    order_providers,
    overview_providers,
    register_step,
    value_providers,
    word_providers,
)
from builds.told import told_steps
from valvetrain import lashing, mark_log, markpages, marks, papers, standlines
from valvetrain.characteristics import NET_LIFT
from valvetrain.mark_steps import register_mark_step


def _length(
    key: str,
    name: str,
    how: str,
    low: str,
    high: str,
    *,
    limit: str = "",
    where: str = "valve",
    signed: bool = False,
) -> Characteristic:
    return Characteristic(
        key=key, name=name, applies_to=where, how_measured=how, low=Decimal(low), high=Decimal(high),
        limit_key=limit or key, signed=signed,
    )  # fmt: skip


def _force(key: str, name: str, how: str, *, limit: str = "") -> Characteristic:
    return Characteristic(
        key=key, name=name, applies_to="valve", how_measured=how, low=Decimal(10), high=Decimal(2000), unit_kind="force",
        limit_key=limit,
    )  # fmt: skip


def _angle(
    key: str, name: str, how: str, *, where: str, limit: str = "", low: str = "-60", high: str = "180"
) -> Characteristic:
    return Characteristic(
        key=key, name=name, applies_to=where, how_measured=how, low=Decimal(low), high=Decimal(high), unit_kind="angle",
        signed=True, limit_key=limit,
    )  # fmt: skip


def _torque(key: str, name: str) -> Characteristic:
    return Characteristic(
        key=key, name=name, applies_to="pad", how_measured="Torque wrench, thread and washer as the maker says.",
        low=Decimal(5), high=Decimal(200), unit_kind="torque", limit_key="stand_bolt_torque",
    )  # fmt: skip


LOBE_LIFT = _length(
    "lobe_lift", "lobe lift", "Dial indicator on the lifter, base circle to nose.", "0.1", "0.8"
)


def measured_ratio(values: Values) -> Decimal | None:
    """Net lift with lash put back, over lobe lift: the ratio that the rocker really has at full lift."""
    if values["lobe_lift"] <= 0:
        return None
    return (values["net_lift"] + values.get("card_lash", Decimal(0))) / values["lobe_lift"]


def open_height(values: Values) -> Decimal:
    """Installed height less net lift [in]."""
    return values["installed_height"] - values["net_lift"]


def coil_bind_margin(values: Values) -> Decimal:
    """Open height less solid height [in]; a solid height that was measured comes before the sheet's."""
    return open_height(values) - values["solid_height"]


def spring_rate(values: Values) -> Decimal | None:
    """(Open load − seat load) / net lift [lbf/in]."""
    if values["net_lift"] <= 0:
        return None
    return (values["open_load"] - values["seat_load"]) / values["net_lift"]


def spring_shim(values: Values) -> Decimal:
    """Measured height less the wanted one [in]: the shim to put under the spring; minus: the seat is too high."""
    return values["installed_height"] - values["sheet_installed_height"]


def spring_shim_said(value: Decimal, unit: str, _limit: LimitFor | None = None) -> str:
    """What to do about a spring shim of less than nothing; nothing where a shim goes under.

    >>> spring_shim_said(Decimal("-0.004"), "in")
    'nothing goes under: 0.0040 in must come away from under the spring'
    """
    amount = show(abs(value), unit)
    if value >= 0 or not amount.strip("0."):
        return ""
    return f"nothing goes under: {amount} {unit} must come away from under the spring"


def pushrod_to_order(values: Values) -> Decimal:
    """Length as read, with what the checking pushrod's cup and ball add [in]."""
    return values["pushrod_length"] + values.get("pushrod_length_correction", Decimal(0))


def register_valvetrain_steps() -> None:
    """Put the valvetrain's steps into the registry."""
    value_providers.append(papers.valve_values)
    sayings["spring_shim"] = spring_shim_said
    limit_providers.append(papers.paper_limits)
    split_limits.update(papers.SPLIT_LIMITS)
    beside_providers.append(papers.beside)
    note_providers.extend([papers.notes, lashing.notes, markpages.notes])
    order_providers.append(lashing.order)
    word_providers.append(lashing.words)
    again_providers.append(marks.read_again)
    context_providers.append(mark_log.what_held)
    overview_providers.append(standlines.stand_heights)
    told_steps.append("lash")
    check_steps.extend(
        [("lash", "Lash"), ("springs", "Springs"), ("clearances", "Clearances and tip height")]
    )
    register_step(
        Step(
            "lift", "lift", "valve", order=10,
            lead="Net lift at the retainer, in line with the valve, lash set. It outranks the cam card and moves every target.",
            caution="Turn the engine by hand, plugs out, fingers clear.",
            measured=(LOBE_LIFT, NET_LIFT), optional=frozenset({"lobe_lift"}),
            derived=(Derived("measured_ratio", "ratio as measured", ("lobe_lift", "net_lift"), measured_ratio, "(net lift + lash) / lobe lift", "ratio", places=3, low=Decimal("0.8"), high=Decimal("2.5"), unlikely="net lift and lobe lift do not go together: read one of them again."),),
        )
    )  # fmt: skip
    register_mark_step()
    register_step(
        Step(
            "pushrods", "pushrods", "valve", order=30,
            lead="Length at zero lash with the stand's height final; then turn twice and look for room. What the checking pushrod's "
            "ends add or take away is kept with each reading.",
            measured=(
                _length("pushrod_length", "pushrod length", "Checking pushrod at zero lash, measured over the balls.", "3", "16"),
                _length("pushrod_to_head", "pushrod to head", "Least room through two turns, with a wire or feeler.", "0", "1"),
            ),
            corrections=(
                Correction("ball", "ball end adds", "pushrod_length", Decimal("0.5")),
                Correction("cup", "cup end adds", "pushrod_length", Decimal("0.5")),
            ),
            derived=(
                Derived("pushrod_to_order", "gauge length to order", ("pushrod_length",), pushrod_to_order, "as read + what the ball and the cup end add"),
            ),
        )
    )  # fmt: skip
    register_step(
        Step(
            "springs", "springs", "valve", order=40,
            lead="Installed height with a height micrometer in place of the spring; loads on the tester at that height and at open height.",
            caution="Springs under compression can kill: proper compressor, eye protection, nobody in line.",
            measured=(
                _length("installed_height", "installed height", "Seat to the retainer's underside.", "0.8", "3.5"),
                _force("seat_load", "seat load", "On the tester, at installed height.", limit="seat_load"),
                _force("open_load", "open load", "On the tester, at open height."),
                _length("solid_height", "solid height", "Coils touching, on the tester.", "0.4", "2.5"),
            ),
            optional=frozenset({"solid_height"}),
            derived=(
                Derived("open_height", "open height", ("installed_height", "net_lift"), open_height, "installed height − net lift", low=Decimal(0), unlikely="the net lift is more than the installed height: read one of them again."),
                Derived("coil_bind_margin", "coil-bind margin", ("installed_height", "net_lift", "solid_height"), coil_bind_margin, "open height − solid height", limit_key="coil_bind_margin", low=Decimal(0), unlikely="the coils would bind before full lift: read the heights again, and do not turn it over."),
                Derived("spring_rate", "rate", ("seat_load", "open_load", "net_lift"), spring_rate, "(open load − seat load) / net lift", "rate", low=Decimal(1), unlikely="the open load is not above the seat load: read one of them again."),
                Derived("spring_shim", "spring shim", ("installed_height", "sheet_installed_height"), spring_shim, "measured height − wanted height (minus: nothing goes under, so much must come away from under the spring)"),
            ),
        )
    )  # fmt: skip
    register_step(
        Step(
            "clearances", "clearances", "valve", order=50,
            lead="Light springs in. Piston to valve: dial the valve down to the piston every few degrees about overlap; write down the least and where it was.",
            caution="Turn the engine by hand, plugs out, fingers clear.",
            measured=(
                _length("retainer_to_seal", "retainer to seal", "At full lift, with a feeler or by travel to touch.", "0", "1"),
                _length("rocker_to_retainer", "rocker to retainer", "Least room through the lift, with a wire.", "0", "1"),
                _length("piston_to_valve", "piston to valve", "Least axial room, by dial indicator.", "0", "2"),
                _angle("piston_to_valve_angle", "at crank angle", "Degrees after top centre; minus: before.", where="valve"),
                _length("piston_to_valve_radial", "valve to pocket, radial", "Edge of the valve to its pocket, by clay or a marked piston.", "0", "1"),
                _length("valve_to_bore", "valve to bore", "Least room of the valve's edge.", "0", "2"),
                _length("tip_height", "valve tip height", "Spring seat to the tip.", "0.5", "4"),
            ),
            optional=frozenset({"piston_to_valve_angle", "piston_to_valve_radial", "valve_to_bore", "tip_height"}),
        )
    )  # fmt: skip
    register_step(
        Step(
            "degreeing", "cam degreed", "engine", order=60,
            lead="Top centre proved with a stop both ways. Several readings of the centreline are welcome. Events at the card's checking lift.",
            caution="Turn the engine by hand, plugs out, fingers clear.",
            measured=(
                _angle("intake_centreline", "intake centreline, after top centre", "Middle between equal lifts either side of the nose.", where="engine", limit="intake_centreline"),
                _angle("exhaust_centreline", "exhaust centreline, before top centre", "Middle between equal lifts either side of the nose.", where="engine", limit="exhaust_centreline"),
                _angle("intake_opens", "intake opens, before top centre", "At the card's checking lift.", where="engine"),
                _angle("intake_closes", "intake closes, after bottom centre", "At the card's checking lift.", where="engine"),
                _angle("exhaust_opens", "exhaust opens, before bottom centre", "At the card's checking lift.", where="engine"),
                _angle("exhaust_closes", "exhaust closes, after top centre", "At the card's checking lift.", where="engine"),
            ),
            optional=frozenset({"exhaust_centreline", "intake_opens", "intake_closes", "exhaust_opens", "exhaust_closes"}),
            derived=(
                Derived("lobe_separation", "lobe separation", ("intake_centreline", "exhaust_centreline"), lambda v: (v["intake_centreline"] + v["exhaust_centreline"]) / 2, "mean of the two centrelines", "angle", low=Decimal(70), high=Decimal(150), unlikely="the two centrelines do not go together: read one of them again."),
                Derived("overlap", "overlap", ("intake_opens", "exhaust_closes"), lambda v: v["intake_opens"] + v["exhaust_closes"], "intake opening + exhaust closing", "angle"),
                Derived("intake_duration", "intake duration", ("intake_opens", "intake_closes"), lambda v: v["intake_opens"] + 180 + v["intake_closes"], "opening + 180° + closing", "angle", low=Decimal(90), high=Decimal(450), unlikely="opening and closing do not go together: read one of them again."),
                Derived("exhaust_duration", "exhaust duration", ("exhaust_opens", "exhaust_closes"), lambda v: v["exhaust_opens"] + 180 + v["exhaust_closes"], "opening + 180° + closing", "angle", low=Decimal(90), high=Decimal(450), unlikely="opening and closing do not go together: read one of them again."),
            ),
        )
    )  # fmt: skip
    register_step(
        Step(
            "lash", "lash", "valve", order=70,
            lead="On the base circle, in the order of firing: each line says where to turn the engine to.",
            caution="Turn the engine by hand, plugs out, fingers clear. Hot lash burns hands.",
            measured=(
                _length("lash_cold", "lash, cold", "Feeler between tip and rocker, light drag.", "0", "0.06", limit="lash"),
                _length("lash_hot", "lash, hot", "Feeler between tip and rocker, light drag, engine warm.", "0", "0.06", limit="lash_hot"),
            ),
            optional=frozenset({"lash_hot"}),
        )
    )  # fmt: skip
    register_step(
        Step(
            "torque", "stand bolts", "pad", order=80,
            lead="Torque as the stand's maker says, then again after the first heat.",
            measured=(_torque("stand_bolt_torque", "torque"), _torque("stand_bolt_retorque", "torque again")),
            optional=frozenset({"stand_bolt_retorque"}),
        )
    )  # fmt: skip
