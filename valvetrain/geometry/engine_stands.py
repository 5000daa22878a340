"""A stand among the others of its engine: pads and valves along a rigid bar, and what its valves need."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.guard import scalar

# Two pads nearer than a nanoinch are one.
_ROUNDING = 1e-9


@dataclass(frozen=True)
class EngineStand:
    """One stand: where its pads and valves are, and what its valves need.

    Args:
        name: The stand's address [-].
        rises: One rise for each valve along its axis [in]; positive: raise.
        valves_at: Place of each valve along the stand, from any one end [in]; may be left out where every
            pad gets the same pack and had the same when the valves were read.
        pads_at: Place of each pad along the stand, from the same end [in], all different.
        pad_tilt: Pad normals from the valve axis [deg], -45 to 45.
        packs_in_place: Pack under each pad when the valves were read [in], zero or more; left out: none.
        allow_tilt: Whether the pads may get different packs [-].
        bending: How far the pack of a pad between others may be off the straight line through the
            outermost two [in], zero or more.
        forced: Thickness [in] and count of shims that must be in the pack under each pad.
        tolerance: Height error allowed at its own valves either way [in], zero or more; left out: what is
            allowed at every valve of the engine.
    Raises:
        GeometryError: No valve, no pad, two pads in one place, lists that do not match, or a number out
            of range.
    Notes:
        Between two pads the shaft's height is linear; beyond the last it goes on along the last two.
    Examples:
        >>> EngineStand("L.stand2", (0.022, 0.026), valves_at=(0.5, 2.5), pads_at=(0.0, 3.0)).rises
        (0.022, 0.026)
    """

    name: str
    rises: Sequence[float]
    valves_at: Sequence[float] = ()
    pads_at: Sequence[float] = (0.0, 1.0)
    pad_tilt: float = 0.0
    packs_in_place: Sequence[float] = ()
    allow_tilt: bool = False
    bending: float = 0.0
    forced: Sequence[tuple[float, int]] = ()
    tolerance: float | None = None

    def __post_init__(self) -> None:
        in_place = tuple(scalar("pack_in_place", pack) for pack in self.packs_in_place)
        checked = {
            "rises": tuple(scalar("rise", rise) for rise in self.rises),
            "valves_at": tuple(scalar("valve_position", place) for place in self.valves_at),
            "pads_at": tuple(scalar("pad_position", place) for place in self.pads_at),
            "pad_tilt": scalar("pad_tilt", self.pad_tilt),
            "packs_in_place": in_place or (0.0,) * len(self.pads_at),
            "bending": scalar("bending", self.bending),
            "tolerance": None if self.tolerance is None else scalar("tolerance", self.tolerance),
            "forced": tuple((scalar("piece", thickness), count) for thickness, count in self.forced),
        }
        for name, value in checked.items():
            object.__setattr__(self, name, value)
        self._check_pads()
        self._check_valves()

    @property
    def tilts(self) -> bool:
        """Whether its pads may get different packs and there is more than one [-]."""
        return self.allow_tilt and len(self.pads_at) > 1

    def refusal(self, what: str, *, where: str, right: str) -> GeometryError:
        """An error that names this stand.

        Args:
            what: What is wrong with it [-].
            where: The argument at fault [-].
            right: What would be right [-].
        Returns:
            The error, to be raised.
        """
        return GeometryError(f"stand {self.name} {what}", where=where, right=right)

    def _check_pads(self) -> None:
        if not self.pads_at:
            raise self.refusal("has no pad", where="pads_at", right="give the place of each pad")
        along = np.sort(np.array(self.pads_at))
        if len(along) > 1 and float(np.diff(along).min()) <= _ROUNDING:
            raise self.refusal(
                "has two pads in one place", where="pads_at", right="measure all from the same end"
            )
        if len(self.packs_in_place) != len(self.pads_at):
            raise self.refusal(
                f"has {len(self.pads_at)} pads and {len(self.packs_in_place)} packs in place",
                where="packs_in_place",
                right="give one for each pad",
            )
        for thickness, count in self.forced:
            if isinstance(count, bool) or not isinstance(count, int) or count < 0:
                raise self.refusal(
                    f"must have {count!r} shims of {thickness:g} in",
                    where="forced",
                    right="give a whole number from 0 up",
                )

    def _check_valves(self) -> None:
        if not self.rises:
            raise self.refusal("has no valve to set", where="rises", right="give one rise for each valve")
        if self.valves_at and len(self.valves_at) != len(self.rises):
            raise self.refusal(
                f"has {len(self.rises)} rises and {len(self.valves_at)} places of valves",
                where="valves_at",
                right="give one place for each rise",
            )
        if not self.valves_at and (self.tilts or len(set(self.packs_in_place)) > 1):
            raise self.refusal(
                "has pads with different packs, and where its valves are is not said",
                where="valves_at",
                right="give the place of each valve along the stand",
            )


def pad_weights(stand: EngineStand) -> NDArray[np.float64]:
    """What part of each pad's rise reaches each valve.

    Args:
        stand: The stand [in].
    Returns:
        One row for each valve and one column for each pad [-]; every row sums to one.
    Notes:
        Linear between the two pads on either side; a valve beyond the last pad has a part above one and
        one below zero, as on a seesaw. Derived here.
    Examples:
        >>> pad_weights(EngineStand("s", (0.0, 0.0), valves_at=(1.0, 4.0), pads_at=(0.0, 2.0))).tolist()
        [[0.5, 0.5], [-1.0, 2.0]]
    """
    pads = np.array(stand.pads_at)
    weights = np.zeros((len(stand.rises), len(pads)))
    if len(pads) == 1 or not stand.valves_at:
        # The same under all pads: where a valve is makes no difference.
        weights[:, 0] = 1.0
        return weights
    order = np.argsort(pads)
    along = pads[order]
    for row, place in enumerate(stand.valves_at):
        right = int(np.clip(np.searchsorted(along, place), 1, len(along) - 1))
        part = (place - along[right - 1]) / (along[right] - along[right - 1])
        weights[row, order[right - 1]], weights[row, order[right]] = 1.0 - part, part
    return weights


def straightness(stand: EngineStand) -> NDArray[np.float64]:
    """How far the pack of each pad between others is off the line through the outermost two.

    Args:
        stand: The stand [in].
    Returns:
        One row for each such pad, to be multiplied by the packs in the order of the pads [-]; no row for
        two pads or one.
    Notes:
        Derived here.
    Examples:
        >>> straightness(EngineStand("s", (0.0,), valves_at=(1.0,), pads_at=(0.0, 1.0, 4.0))).tolist()
        [[-0.75, 1.0, -0.25]]
    """
    pads = np.array(stand.pads_at)
    order = np.argsort(pads).tolist()
    between = order[1:-1]
    rows = np.zeros((len(between), len(pads)))
    for row, pad in enumerate(between):
        part = (pads[pad] - pads[order[0]]) / (pads[order[-1]] - pads[order[0]])
        rows[row, pad], rows[row, order[0]], rows[row, order[-1]] = 1.0, part - 1.0, -part
    return rows
