"""The pages about parts, in the strip of the pages under “Returns”."""

from builds.panels import Panel, return_pages


def register_part_pages() -> None:
    """Enter them, after all other pages of the strip."""
    return_pages.extend(
        [
            Panel("Trace a part", "part-trace"),
            Panel("Recalls", "recall-list"),
            Panel("How long parts last", "part-survival"),
        ]
    )
