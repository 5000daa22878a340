"""Firing order: read from text, checked, and the companions that follow from it."""

import re
from collections.abc import Iterable

from valvetrain.geometry.errors import GeometryError


def parse_firing_order(text: str) -> tuple[int, ...]:
    """Read a firing order as it is written.

    Args:
        text: Cylinder numbers parted by dashes, commas or spaces [-]; up to nine cylinders may also
            stand in one word, as 1342.
    Returns:
        Cylinder numbers in the order in which they fire.
    Raises:
        GeometryError: Nothing, something that is no cylinder, a cylinder twice, or one left out.
    Notes:
        Every number from 1 to the count must be there once. Odd counts are engines too: only companions
        need an even one.
    Examples:
        >>> parse_firing_order("1-8-4-3-6-5-7-2")
        (1, 8, 4, 3, 6, 5, 7, 2)
        >>> parse_firing_order("1, 3, 4, 2") == parse_firing_order("1342")
        True
    """
    words = [word for word in re.split(r"[\s,;/\-‐‑–—]+", text) if word]
    if len(words) == 1 and len(words[0]) > 1:
        words = list(words[0])
    order = []
    for word in words:
        # isdecimal alone would let through digits of other scripts, which int() reads but a bench does not.
        if not (word.isascii() and word.isdecimal() and int(word) > 0):
            raise _no_order(f"{word!r} is no cylinder number")
        order.append(int(word))
    return checked_firing_order(order)


def checked_firing_order(order: Iterable[int]) -> tuple[int, ...]:
    """Give a firing order back, or say what is wrong with it.

    Args:
        order: Cylinder numbers in the order in which they fire [-].
    Returns:
        The same.
    Raises:
        GeometryError: No cylinder, one that stands twice, or one left out.
    Examples:
        >>> checked_firing_order([1, 3, 2])
        (1, 3, 2)
    """
    order = tuple(order)
    if not order:
        raise _no_order("the firing order is empty")
    for cylinder in order:
        if isinstance(cylinder, bool) or not isinstance(cylinder, int) or cylinder < 1:
            raise _no_order(f"{cylinder!r} is no cylinder number")
    twice = sorted({cylinder for cylinder in order if order.count(cylinder) > 1})
    if twice:
        raise _no_order(f"cylinder {_and(twice)} stands more than once in the firing order")
    # A single slip such as 100 for 10 would name ninety cylinders missing: name a few.
    missing = [cylinder for cylinder in range(1, min(max(order), 99) + 1) if cylinder not in order]
    if missing:
        listed = _and(missing[:4]) + (" and others" if len(missing) > 4 else "")
        raise _no_order(f"cylinder {listed} is missing from the firing order, whose highest is {max(order)}")
    return order


def companions(firing_order: Iterable[int]) -> tuple[tuple[int, int], ...]:
    """Cylinders that stand at the same place of their stroke together.

    Args:
        firing_order: Cylinder numbers in the order in which they fire [-].
    Returns:
        Pairs half the order apart, in the order in which their first one fires.
    Raises:
        GeometryError: Not a firing order, or an odd count.
    Notes:
        When one of a pair fires the other is on overlap, a crank turn away. Even-fire four-strokes only.
        Common practice.
    Examples:
        >>> companions(parse_firing_order("1-8-4-3-6-5-7-2"))
        ((1, 6), (8, 5), (4, 7), (3, 2))
    """
    order = checked_firing_order(firing_order)
    half, odd = divmod(len(order), 2)
    if odd:
        raise GeometryError(
            f"an engine of {len(order)} has no companion cylinders",
            where="firing_order",
            right="companions need an even count; set each cylinder by its own valves",
        )
    return tuple((order[place], order[place + half]) for place in range(half))


def _no_order(what: str) -> GeometryError:
    return GeometryError(
        what, where="firing_order", right="write each cylinder once in the order they fire, as 1-3-4-2"
    )


def _and(cylinders: list[int]) -> str:
    return ", ".join(str(cylinder) for cylinder in cylinders)
