"""Lettering of drawings in whole lines.

WeasyPrint lays out each letter of an SVG text by itself, since SVG lets every letter have its own place. The drawings
of the house letter whole lines, at one place each; laid out as such they cost a tenth, are kerned, and can be searched
for as words. A text that does place its letters is left to WeasyPrint. Made for the pinned version: `install` changes
nothing where the parts that it stands on are not there.
"""

import logging
from functools import lru_cache
from math import inf
from typing import Any

PLACES_LETTERS = {
    "dx", "dy", "rotate", "textLength", "lengthAdjust", "letter-spacing", "direction", "display-anchor",
    "dominant-baseline", "alignment-baseline",
}  # fmt: skip
ANCHORS = {"start": 0.0, "middle": 0.5, "end": 1.0}

# Where somebody listens: the lines that were set, each with its font in the document.
lines_set: list[tuple[Any, Any]] | None = None

logger = logging.getLogger(__name__)


def install() -> bool:
    """Take over the lettering; False where this WeasyPrint is built otherwise."""
    try:
        from weasyprint import svg
        from weasyprint.css.properties import INITIAL_VALUES
        from weasyprint.draw.text import draw_first_line
        from weasyprint.matrix import Matrix
        from weasyprint.svg.bounding_box import EMPTY_BOUNDING_BOX
        from weasyprint.svg.text import Style, TextBox, text
        from weasyprint.svg.utils import size
        from weasyprint.text.line_break import split_first_line
    except ImportError:
        logger.warning("drawings are lettered letter by letter: this WeasyPrint is built otherwise")
        return False

    @lru_cache(maxsize=64)
    def style_of(fonts: Any, family: str, weight: int, font_size: float) -> Any:
        style = Style()
        style.update(INITIAL_VALUES)
        style.font_config = fonts
        style["font_family"] = [name.strip(" \"'") for name in family.split(",")]
        style["font_weight"] = weight
        style["font_size"] = font_size
        return style

    def letter(drawing: Any, node: Any, font_size: float) -> None:
        """Draw one line of text at its place."""
        if not is_one_line(node):
            node.text_bounding_box = EMPTY_BOUNDING_BOX
            text(drawing, node, font_size)
            return
        weight = node.get("font-weight", "400")
        family = node.get("font-family", "sans-serif")
        style = style_of(drawing.font_config, family, int(weight) if weight.isdigit() else 400, font_size)
        layout, _, _, width, _height, baseline = split_first_line(node.text, style, drawing.context, inf, 0)
        x = (
            size(node.get("x"), font_size, drawing.inner_width)
            - width * ANCHORS[node.get("text-anchor", "start")]
        )
        y = size(node.get("y"), font_size, drawing.inner_height)
        stream = drawing.stream
        stream.push_state()
        fill, stroke = drawing.set_graphical_state(node, font_size)
        stream.begin_text()
        layout.reactivate(style)
        drawing.fill_stroke(fill, stroke, text=True)
        box = TextBox(layout, style)
        box.baseline = baseline
        draw_first_line(stream, box, "none", "none", Matrix(d=-1, e=x, f=y))
        stream.end_text()
        stream.pop_state()
        if lines_set is not None:
            lines_set.append((layout, stream.add_font(font_of(layout))[0]))

    # Standing beside `svg.text`, not in its place: a text that WeasyPrint does not know as one is not shifted by it.
    svg.TAGS["text"] = letter
    return True


def font_of(layout: Any) -> Any:
    """The font of a line's first run."""
    return layout.get_first_line()[0].runs[0].data.item.analysis.font


def is_one_line(node: Any) -> bool:
    """Whether a text is lettered in one line at one place."""
    x, y = node.get("x", ""), node.get("y", "")
    if not node.text or not x or not y or " " in f"{x}{y}" or len(node._etree_node):
        return False
    return PLACES_LETTERS.isdisjoint(node.attrib) and node.get("text-anchor", "start") in ANCHORS
