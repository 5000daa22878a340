"""Addresses inside a build, as chalked on the bench: 3E, L.stand2, cyl4.

The ground floor knows the cylinders and main bearings; other floors add theirs through `position_providers`.
"""

from collections.abc import Callable

from builds.models import Build

# Each takes a build and returns address → what stands there: valve, stand, pad ...
position_providers: list[Callable[[Build], dict[str, str]]] = []


def positions_of(build: Build) -> dict[str, str]:
    """Every address of a build with what stands there."""
    found = {f"cyl{number}": "cylinder" for number in range(1, build.engine.cylinders + 1)}
    found.update({f"main{number}": "main" for number in range(1, build.engine.mains + 1)})
    found["engine"] = "engine"
    for provider in position_providers:
        found.update(provider(build))
    return found
