"""The thread that is left in the head once a pack has lifted the stand off it."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.guard import Numbers, plain, require

# Bolt diameters of thread to ask for. Common practice, no source; a shop may set its own.
MULTIPLES: Mapping[str, float] = MappingProxyType({"iron": 1.0, "steel": 1.0, "aluminium": 1.5})
# Rounding only, so that a bolt at exactly the limit passes.
_ROUNDING = 1e-9


@dataclass(frozen=True)
class EngagementVerdict:
    """Whether a bolt has thread enough.

    Args:
        engagement: Thread in the head [in], zero or more.
        required: Thread asked for [in].
        margin: Engagement less what is asked [in]; negative: short by that much.
        enough: Whether the margin is zero or more [-].
        past_thread: How far the bolt would run past the tapped depth [in]; above zero it may bottom
            before it clamps.
    """

    engagement: Numbers
    required: Numbers
    margin: Numbers
    enough: bool | NDArray[np.bool_]
    past_thread: Numbers


def bolt_reach(*, bolt_length: Numbers, washer: Numbers, stand_thickness: Numbers, pack: Numbers) -> Numbers:
    """How far the bolt reaches below the pad's face.

    Args:
        bolt_length: Length under the bolt's head [in], above zero.
        washer: Thickness of washers under the head [in], zero or more.
        stand_thickness: Stand at the bolt [in], above zero.
        pack: Shims under the pad [in], zero or more.
    Returns:
        Reach [in]; negative: the bolt does not come to the head at all.
    Raises:
        GeometryError: A number out of range.
    Notes:
        Length less all that stands between bolt head and pad; no upper end. Derived here.
    Examples:
        >>> bolt_reach(bolt_length=2.0, washer=0.1, stand_thickness=1.25, pack=0.06)
        0.59
    """
    return plain(
        require("bolt_length", bolt_length)
        - require("washer", washer)
        - require("stand_thickness", stand_thickness)
        - require("pack", pack)
    )


def thread_engagement(
    *,
    bolt_length: Numbers,
    washer: Numbers,
    stand_thickness: Numbers,
    pack: Numbers,
    tapped_depth: Numbers,
) -> Numbers:
    """Thread of the bolt that is in the head.

    Args:
        bolt_length: Length under the bolt's head [in], above zero.
        washer: Thickness of washers under the head [in], zero or more.
        stand_thickness: Stand at the bolt [in], above zero.
        pack: Shims under the pad [in], zero or more.
        tapped_depth: Depth of full thread in the head [in], above zero.
    Returns:
        Engagement [in], from zero to the tapped depth.
    Raises:
        GeometryError: A number out of range.
    Notes:
        The bolt's reach, held between nothing and the tapped depth. Takes the thread as full to the
        bolt's end and to the pad's face: a chamfer or a counterbore takes away more. Derived here.
    Examples:
        >>> thread_engagement(bolt_length=2.0, washer=0.1, stand_thickness=1.25, pack=0.06, tapped_depth=0.75)
        0.59
    """
    reach = bolt_reach(bolt_length=bolt_length, washer=washer, stand_thickness=stand_thickness, pack=pack)
    return plain(np.minimum(np.maximum(reach, 0.0), require("tapped_depth", tapped_depth)))


def required_engagement(
    bolt_diameter: Numbers, material: str, *, multiples: Mapping[str, float] = MULTIPLES
) -> Numbers:
    """Thread to ask for in a head of this material.

    Args:
        bolt_diameter: Nominal diameter of the bolt [in], above zero.
        material: What the head is made of [-]: a key of ``multiples``.
        multiples: Bolt diameters of thread to ask for, by material [bolt diameters].
    Returns:
        Engagement to ask for [in].
    Raises:
        GeometryError: A material that is not among the multiples, or a number out of range.
    Notes:
        1.0 in iron or steel and 1.5 in aluminium unless told otherwise. Common practice, no source.
    Examples:
        >>> required_engagement(0.375, "aluminium")
        0.5625
    """
    if material not in multiples:
        raise GeometryError(
            f"no thread engagement is set for {material!r}",
            where="material",
            right="choose one of " + ", ".join(sorted(multiples)),
        )
    return require("bolt_diameter", bolt_diameter) * require("multiple", multiples[material])


def engagement_verdict(
    *,
    bolt_length: Numbers,
    washer: Numbers,
    stand_thickness: Numbers,
    pack: Numbers,
    tapped_depth: Numbers,
    bolt_diameter: Numbers,
    material: str,
    multiples: Mapping[str, float] = MULTIPLES,
) -> EngagementVerdict:
    """Whether the pack leaves thread enough, and by how much.

    Args:
        bolt_length: Length under the bolt's head [in], above zero.
        washer: Thickness of washers under the head [in], zero or more.
        stand_thickness: Stand at the bolt [in], above zero.
        pack: Shims under the pad [in], zero or more.
        tapped_depth: Depth of full thread in the head [in], above zero.
        bolt_diameter: Nominal diameter of the bolt [in], above zero.
        material: What the head is made of [-]: a key of ``multiples``.
        multiples: Bolt diameters of thread to ask for, by material [bolt diameters].
    Returns:
        Engagement, what is asked, the margin [in], and whether the bolt runs past the thread.
    Raises:
        GeometryError: A number out of range or an unknown material.
    Notes:
        A bolt that runs past the tapped depth can pass for engagement and yet bottom in a blind hole,
        so that is told apart. Derived here.
    Examples:
        >>> engagement_verdict(bolt_length=2.0, washer=0.1, stand_thickness=1.25, pack=0.06,
        ...     tapped_depth=0.75, bolt_diameter=0.375, material="aluminium").margin
        0.0275
    """
    reach = bolt_reach(bolt_length=bolt_length, washer=washer, stand_thickness=stand_thickness, pack=pack)
    depth = require("tapped_depth", tapped_depth)
    engagement = np.minimum(np.maximum(reach, 0.0), depth)
    required = required_engagement(bolt_diameter, material, multiples=multiples)
    margin = plain(engagement - required)
    enough = margin >= -_ROUNDING
    return EngagementVerdict(
        engagement=plain(engagement),
        required=required,
        margin=margin,
        enough=enough,
        past_thread=plain(np.maximum(reach - depth, 0.0)),
    )
