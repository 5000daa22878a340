"""What if: one valve with something changed, beside what it is today. Plain numbers in, plain numbers out.

Right height is r − k·S above the tip, so against the head it moves by δ + (r' − r) − (k'·S' − k·S), the tip up by δ.
Inches, pounds-force and degrees, with the signs of the glossary; common practice or derived here where nothing is named.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.height import reading_to_expect, target_height
from valvetrain.geometry.linkage import PushrodLinkage
from valvetrain.geometry.springs import coil_bind_margin, load_at, open_height
from valvetrain.geometry.travel import expected_mark, sweep
from valvetrain.what_if_setup import Changes, Setup, with_changes


@dataclass(frozen=True)
class Figures:
    """What follows for one valve. `over_gauge`: gap over the shaft; negative: feeler under the foot."""

    lift: float | None = None
    target_top: float | None = None
    rise: float | None = None
    sweep: float | None = None
    over_gauge: float | None = None
    installed_height: float | None = None
    seat_load: float | None = None
    open_height: float | None = None
    open_load: float | None = None
    coil_bind_margin: float | None = None
    retainer_to_seal: float | None = None
    rocker_to_retainer: float | None = None
    piston_to_valve: float | None = None
    problems: tuple[str, ...] = ()

    def __iter__(self) -> Iterator[str]:
        """The figures' names."""
        return iter(name for name in self.__dataclass_fields__ if name != "problems")


def figures_of(setup: Setup) -> Figures:
    """Work a valve out. What cannot be is None, with a sentence among the problems."""
    found: dict[str, Any] = {
        name: getattr(setup, name)
        for name in (
            "lift",
            "installed_height",
            "seat_load",
            "retainer_to_seal",
            "rocker_to_retainer",
            "piston_to_valve",
        )
    }
    problems = []
    for work in (_heights, _spring_figures):
        try:
            found |= work(setup)
        except GeometryError as error:
            problems.append(str(error))
    return Figures(**found, problems=tuple(dict.fromkeys(problems)))


def _heights(setup: Setup) -> dict[str, float | None]:
    arm = setup.arm
    if arm is None or setup.lift is None:
        return {}
    height = float(target_height(arm, setup.lift, setup.square_at))
    top = height + arm.shaft_radius
    over = None
    if setup.gauge_step is not None:
        shown = reading_to_expect(
            arm, setup.lift, setup.gauge_step, square_at=setup.square_at, dummy_radius=setup.dummy_radius
        )
        over = float(shown.gap) - float(shown.foot_feeler)
    return {
        "target_top": top,
        "rise": None if setup.top_now is None else top - setup.top_now,
        "sweep": float(sweep(arm, setup.lift, square_at=setup.square_at)),
        "over_gauge": over,
    }


def _spring_figures(setup: Setup) -> dict[str, float | None]:
    if setup.installed_height is None or setup.lift is None:
        return {}
    opened = float(open_height(setup.installed_height, setup.lift))
    load = margin = None
    if setup.seat_load is not None and setup.spring_rate is not None:
        load = float(
            load_at(
                opened,
                spring_rate=setup.spring_rate,
                seat_load=setup.seat_load,
                installed_height=setup.installed_height,
            )
        )
    if setup.solid_height is not None:
        margin = float(coil_bind_margin(opened, setup.solid_height))
    return {"open_height": opened, "open_load": load, "coil_bind_margin": margin}


@dataclass(frozen=True)
class Outcome:
    """One valve today and in a trial.

    `stand_move` is how far the right height moves against the head; `pushrod_change` what the pushrod's length changes by
    at zero lash with the stand at its right height both times, `pushrod_exact` whether that comes from the linkage;
    `pushrod_spare` how much a typed pushrod is longer than the trial asks for.
    """

    today: Setup
    trial: Setup
    was: Figures
    now: Figures
    stand_move: float | None = None
    pushrod_change: float | None = None
    pushrod_exact: bool = False
    pushrod_spare: float | None = None

    @property
    def pushrod_length(self) -> float | None:
        """Pushrod that the trial asks for; None while none is measured or nothing follows."""
        if self.today.pushrod_length is None or self.pushrod_change is None:
            return None
        return self.today.pushrod_length + self.pushrod_change


def what_if(today: Setup, changes: Changes) -> Outcome:
    """Work one valve out, today and with changes. Impossible numbers become sentences among the problems."""
    was = figures_of(today)
    try:
        trial = with_changes(today, changes)
    except GeometryError as error:
        return Outcome(today, today, was, Figures(problems=(str(error),)))
    now = figures_of(trial)
    outcome = Outcome(today, trial, was, now, stand_move=_stand_move(today, trial, was, now))
    return with_pushrod(outcome, changes)


def _stand_move(today: Setup, trial: Setup, was: Figures, now: Figures) -> float | None:
    """How far the shaft's right place moves against the head [in]; positive: up."""
    if was.target_top is None or now.target_top is None:
        return None
    assert today.shaft_radius is not None and trial.shaft_radius is not None
    return (now.target_top - trial.shaft_radius + trial.tip) - (was.target_top - today.shaft_radius)


def with_pushrod(outcome: Outcome, changes: Changes, *, carried: float = 0.0) -> Outcome:
    """Add what the pushrod's length changes by; `carried` is how far the trial carries the shaft across [in]."""
    linkage = outcome.today.linkage
    problems = outcome.now.problems
    change = None
    if outcome.stand_move is not None:
        try:
            if linkage is not None:
                change = _by_linkage(linkage, outcome.today, outcome.trial, carried)
            else:
                change = _by_lever(outcome.today, outcome.trial)
        except GeometryError as error:
            problems = tuple(dict.fromkeys([*problems, str(error)]))
    found = replace(
        outcome,
        pushrod_change=change,
        pushrod_exact=linkage is not None,
        now=replace(outcome.now, problems=problems),
    )
    asked = found.pushrod_length
    if asked is None or changes.pushrod_length is None:
        return found
    return replace(found, pushrod_spare=changes.pushrod_length - asked)


def _right_height(setup: Setup) -> float:
    assert setup.arm is not None and setup.lift is not None
    return float(target_height(setup.arm, setup.lift, setup.square_at))


def cup_height(setup: Setup) -> float | None:
    """Pushrod cup above today's closed tip [in], the stand at its right height and the valve closed.

    The cup straight across the shaft from the roller, its radius the arm's over the ratio: tip + H − (r − H) / ratio.
    """
    if setup.ratio is None or setup.tip_radius is None:
        return None
    height = _right_height(setup)
    return setup.tip + height - (setup.tip_radius - height) / setup.ratio


def _by_lever(today: Setup, trial: Setup) -> float | None:
    """The cup's move along the valve axis, the pushrod taken as parallel to it."""
    was, now = cup_height(today), cup_height(trial)
    return None if was is None or now is None else now - was


def _by_linkage(linkage: PushrodLinkage, today: Setup, trial: Setup, carried: float) -> float:
    """The pushrod at zero lash, in space, trial less today; the lifter stays where it is in the block."""
    assert today.arm is not None and trial.arm is not None
    # The cup goes out with a longer arm and comes in with a higher ratio, as the lever has it.
    radius = linkage.cup_radius * trial.arm.length / today.arm.length
    if today.ratio is not None and trial.ratio is not None:
        radius *= today.ratio / trial.ratio
    x, y, z = linkage.lifter_point
    was = replace(linkage, shaft_height=_right_height(today), pushrod_length=None, lash=0.0)
    now = replace(
        was,
        arm=trial.arm,
        shaft_height=_right_height(trial),
        shaft_offset=linkage.shaft_offset - carried,
        cup_radius=radius,
        lifter_point=(x, y - trial.tip, z),
    )
    return now.fitted_length - was.fitted_length


def mark_walk(outcome: Outcome, carried_today: float, carried_trial: float) -> float | None:
    """How far the middle of the mark moves [in] from where today's pack would put it; positive: outboard.

    What the pack carries the shaft across, and what another arm or lift does to the middle of the contact itself.
    """
    if outcome.was.target_top is None or outcome.now.target_top is None:
        return None
    assert outcome.today.arm_length is not None
    middles = []
    for setup in (outcome.today, outcome.trial):
        assert setup.arm is not None and setup.lift is not None
        mark = expected_mark(
            setup.arm, setup.lift, shaft_offset=outcome.today.arm_length, square_at=setup.square_at
        )
        middles.append(0.5 * (float(mark.inner) + float(mark.outer)))
    return middles[1] - middles[0] + carried_trial - carried_today
