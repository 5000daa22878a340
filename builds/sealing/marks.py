"""What a sheet shows of its own seal, made from its entry in the chain and the drawn signatures alone."""

from collections.abc import Mapping
from datetime import datetime
from html import escape
from io import BytesIO
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import segno
from django.utils.html import format_html
from django.utils.safestring import SafeString

from builds.printing.paper import Paper
from builds.sealing.canonical import digest_words
from builds.sealing.kinds import SealMarks, Signed
from builds.sealing.places import block
from builds.sealing.rules import strokes_of, typed_instead

CODE = "seal-code"
ROLE_WORDS = {"measured": "Measured by", "checked": "Checked by"}


def marks_from(entry: Mapping[str, Any], digest: str, strokes: Mapping[str, str]) -> SealMarks:
    """The marks of a seal. `strokes` are the drawn signatures by role."""
    drawings = {f"seal-{role}": strokes_drawing(text) for role, text in strokes.items()}
    if entry["page"]:
        drawings[CODE] = code_drawing(entry["page"])
    revises = entry["revises"]
    return SealMarks(
        number=entry["number"],
        revision=entry["revision"],
        reason=entry["reason"],
        revises=None if revises is None else revises["number"],
        digest=digest,
        previous_digest=entry["previous_digest"],
        sealed_at=when(entry["sealed_at"], entry["time_zone"]),
        page=entry["page"],
        signatures=tuple(_signed(each, entry["time_zone"]) for each in entry["signatures"]),
        accepted=tuple(
            {
                "words": each["words"],
                "value": each["value_text"],
                "reason": each["reason"],
                "by": each["accepted_by"]["name"],
                "at": when(each["accepted_at"], entry["time_zone"]),
            }
            for each in entry["acceptances"]
        ),
        drawings=drawings,
    )


def _signed(plain: Mapping[str, Any], zone: str) -> Signed:
    return Signed(
        role=plain["role"],
        name=plain["person"]["name"],
        typed_name=plain["typed_name"],
        meaning=plain["meaning"],
        signed_at=when(plain["signed_at"], zone),
        drawing=f"seal-{plain['role']}",
    )


def when(text: str, zone: str) -> str:
    """A time of an entry as a sheet prints it, in the zone that the shop kept then."""
    moment = datetime.fromisoformat(text)
    try:
        return f"{moment.astimezone(ZoneInfo(zone)):%d %b %Y %H:%M} {zone}"
    except (ZoneInfoNotFoundError, ValueError):
        return f"{moment:%d %b %Y %H:%M} UTC"


def strokes_drawing(text: str) -> str:
    """A signature as SVG: as it was drawn, or the name that was typed in its place, on a line."""
    width, height, strokes = strokes_of(text)
    if not strokes:
        return _typed_drawing(width, height, typed_instead(text))
    paths = []
    for stroke in strokes:
        points = stroke if len(stroke) > 1 else stroke * 2
        paths.append("M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points) if stroke else "")
    thick = max(width, height) / 160
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}" height="{height:g}" '
        f'viewBox="0 0 {width:g} {height:g}">'
        f'<path d="{"".join(paths)}" fill="none" stroke="#26292c" stroke-width="{thick:.2f}" stroke-linecap="round" '
        'stroke-linejoin="round"/></svg>'
    )


def _typed_drawing(width: float, height: float, name: str) -> str:
    tall = min(height / 4, width * 1.6 / max(len(name), 1))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}" height="{height:g}" '
        f'viewBox="0 0 {width:g} {height:g}"><text x="{width * 0.04:g}" y="{height * 0.6:g}" font-family="Plex" '
        f'font-size="{tall:.1f}" fill="#26292c">{escape(name)}</text>'
        f'<path d="M{width * 0.04:g} {height * 0.72:g}H{width * 0.96:g}" stroke="#26292c" stroke-width="1"/></svg>'
    )


def code_drawing(address: str) -> str:
    """The address of the sheet's page as a QR code, SVG."""
    out = BytesIO()
    segno.make(address, error="m", micro=False).save(
        out, kind="svg", xmldecl=False, svgns=True, dark="#000", border=2, omitsize=True
    )
    return out.getvalue().decode()


def seal_style(marks: SealMarks, paper: Paper) -> SafeString:
    """CSS for a sealed sheet: its number and digest in the margin of every page, and where the two blocks stand.

    Goes into a page's own <style>, after `css/seal.css`.
    """
    places = [(signed.role, block(paper, signed.role)) for signed in marks.signatures]
    blocks = "".join(
        f".seal-{role} {{ left: {place.left - 12:.2f}mm; top: {place.top - 12:.2f}mm; width: {place.width:.2f}mm; "
        f"height: {place.height:.2f}mm }}"
        for role, place in places
    )
    return format_html(
        '@page {{ @top-left {{ content: "Sheet {}, revision {} · digest {}"; font: 400 2.1mm/1 "Plex"; color: #26292c; '
        "vertical-align: bottom; padding-bottom: .5mm; white-space: nowrap; width: 100% }} }} {}",
        marks.number,
        marks.revision,
        digest_words(marks.digest),
        SafeString(blocks),
    )
