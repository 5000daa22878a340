"""Reading a table of lift by angle, as a cam checker writes it: plain columns, in one of the ways the world writes them.

Columns are parted by a tab, a semicolon or a comma; numbers have a decimal point or a decimal comma; a line of headings
may stand on top; empty lines and lines that begin with # are passed over. Every refusal names the line.
"""

import re
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise

LARGEST_FILE = 200_000
MOST_ROWS = 2_000
FEWEST_ROWS = 8
# Crank degrees and inches beyond which a number in a table is a mistake and no cam.
LARGEST_ANGLE = Decimal(1440)
LARGEST_LIFT = {"in": Decimal(2), "mm": Decimal(50)}
MM_PER_INCH = Decimal("25.4")
# Where the table begins and ends it stands on the base circle, within a dial's own error.
NEAR_ZERO = {"in": Decimal("0.0005"), "mm": Decimal("0.0127")}

_NUMBER = re.compile(r"[+-]?(\d{1,5}([.,]\d{0,20})?|[.,]\d{1,20})")
_MINUSES = str.maketrans({"−": "-", "–": "-", "\u00a0": " "})
_UNIT_WORDS = {"mm": r"\b(mm|millimet(?:er|re)s?)\b", "in": r"\b(in|inch|inches)\b"}


class TableRefused(ValueError):
    """A table that cannot be read: one sentence with the line, what is wrong and what would be right."""


@dataclass(frozen=True)
class LiftTable:
    """Angles [degrees, as in the table] and lifts [in], in the order of the table; rising angles."""

    angles: tuple[float, ...]
    lifts: tuple[float, ...]


def decode(data: bytes) -> str:
    """The text of an uploaded file; `TableRefused` where it is too large or no text."""
    if len(data) > LARGEST_FILE:
        raise TableRefused(
            f"This file is larger than {LARGEST_FILE // 1000} kB. Export angle and lift alone."
        )
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        try:
            return data.decode("utf-16")
        except UnicodeDecodeError:
            pass
    elif b"\x00" not in data:
        for encoding in ("utf-8-sig", "cp1252"):
            try:
                return data.decode(encoding)
            except UnicodeDecodeError:
                continue
    raise TableRefused(
        "This file is not plain text. Save the table as CSV or text, two columns, and choose that file."
    )


def read_table(text: str, unit: str = "in") -> LiftTable:
    """Read a table whose lifts are in `unit`. Raises `TableRefused` with the line.

    >>> lines = ["angle;lift"] + [f"{10 * n};{0 if n in (0, 8) else 0.1 * n}".replace(".", ",") for n in range(9)]
    >>> read_table("\\n".join(lines)).lifts[:3]
    (0.0, 0.1, 0.2)
    """
    lines = _lines(text)
    separator = _separator(lines)
    if lines and not _numbers_in(lines[0][1]):
        _check_heading(lines[0], separator, unit)
        lines = lines[1:]
    if len(lines) > MOST_ROWS:
        raise TableRefused(
            f"This table has {len(lines)} rows. Give at most {MOST_ROWS}: every degree is plenty."
        )
    rows = [(number, *_pair(number, line, separator, unit)) for number, line in lines]
    if len(rows) < FEWEST_ROWS:
        raise TableRefused(
            f"This table has {len(rows)} row{'' if len(rows) == 1 else 's'} of numbers. Give {FEWEST_ROWS} or more, from "
            "base circle to base circle."
        )
    _check_order(rows)
    _check_ends(rows, unit)
    inches = [lift / (MM_PER_INCH if unit == "mm" else 1) for _number, _angle, lift in rows]
    return LiftTable(tuple(float(angle) for _n, angle, _l in rows), tuple(float(lift) for lift in inches))


def _lines(text: str) -> list[tuple[int, str]]:
    """The lines that say something, with their numbers."""
    if len(text) > LARGEST_FILE:
        raise TableRefused(f"This table is longer than {LARGEST_FILE // 1000} kB. Give angle and lift alone.")
    if "\x00" in text:
        raise TableRefused(
            "This table has signs in it that cannot be kept. Save it as plain text, two columns."
        )
    told = [
        (number, line.translate(_MINUSES).strip()) for number, line in enumerate(text.splitlines(), start=1)
    ]
    return [(number, line) for number, line in told if line and not line.startswith("#")]


def _separator(lines: list[tuple[int, str]]) -> str:
    """What parts the columns, the same in the whole table: where there is a tab or a semicolon, commas are decimal."""
    for separator in ("\t", ";"):
        if any(separator in line for _number, line in lines):
            return separator
    return ","


def _numbers_in(line: str) -> bool:
    """Whether a line begins with a number, so that it is no heading."""
    return bool(re.match(r"[\"'\s]*[+-]?[.,]?\d", line))


def _check_heading(line: tuple[int, str], separator: str, unit: str) -> None:
    number, text = line
    columns = [column.strip().lower() for column in text.split(separator)]
    if "lift" in columns[0] and "angle" not in columns[0] and "deg" not in columns[0]:
        raise TableRefused(
            f"Line {number}: the headings put the lift first. Put the crank angle first, the lift second."
        )
    last = columns[1] if len(columns) > 1 else ""
    for said, words in _UNIT_WORDS.items():
        if said != unit and re.search(words, last):
            asked = "inches" if unit == "in" else "millimetres"
            raise TableRefused(
                f"Line {number}: the heading says the lifts are in {said}, and {asked} is chosen beside the table. "
                "Choose what they are."
            )


def _pair(number: int, line: str, separator: str, unit: str) -> tuple[Decimal, Decimal]:
    columns = [column.strip().strip("\"'").strip() for column in line.split(separator)]
    while len(columns) > 2 and not columns[-1]:
        columns.pop()  # a separator at the end of the line
    if len(columns) != 2:
        raise TableRefused(_wrong_columns(number, len(columns), separator))
    angle, lift = (_number(number, text, what) for text, what in zip(columns, ("angle", "lift"), strict=True))
    if abs(angle) > LARGEST_ANGLE:
        raise TableRefused(
            f"Line {number}: {columns[0]}° is more than two turns of the engine. One cycle is 720°."
        )
    if abs(lift) > LARGEST_LIFT[unit]:
        raise TableRefused(
            f"Line {number}: a lift of {columns[1]} {unit} is more than any lobe has. Check the unit beside the table."
        )
    return angle, lift


def _wrong_columns(number: int, count: int, separator: str) -> str:
    if count == 1:
        return (
            f"Line {number} has one column. Give angle and lift, with a comma, a semicolon or a tab between."
        )
    if separator == ",":
        return (
            f"Line {number} has {count} columns. Give two, crank angle and lift; where the numbers have decimal commas, "
            "put a semicolon or a tab between the two."
        )
    return f"Line {number} has {count} columns. Give two: crank angle and lift."


def _number(line: int, text: str, what: str) -> Decimal:
    if not text:
        raise TableRefused(f"Line {line}: the {what} is empty. Give a number, such as 0.1250.")
    if not _NUMBER.fullmatch(text):
        raise TableRefused(
            f"Line {line}: “{text[:20]}” is not a number for the {what}. Give one such as 0.1250."
        )
    return Decimal(text.replace(",", "."))


def _check_order(rows: list[tuple[int, Decimal, Decimal]]) -> None:
    for (_before, angle, _lift), (number, following, _following_lift) in pairwise(rows):
        if following <= angle:
            how = "is there twice" if following == angle else f"comes after {angle}°"
            raise TableRefused(
                f"Line {number}: {following}° {how}. Sort the table by rising angle, each angle once."
            )


def _check_ends(rows: list[tuple[int, Decimal, Decimal]], unit: str) -> None:
    for place, (number, _angle, lift) in (("begins", rows[0]), ("ends", rows[-1])):
        if abs(lift) > NEAR_ZERO[unit]:
            raise TableRefused(
                f"Line {number}: the table {place} at a lift of {lift} {unit}. Give the whole lobe, from base circle to "
                "base circle, with zero on the base circle."
            )
    lowest = min(rows, key=lambda row: row[2])
    if lowest[2] < -NEAR_ZERO[unit]:
        raise TableRefused(
            f"Line {lowest[0]}: the lift goes down to {lowest[2]} {unit}. Set the dial to zero on the base circle."
        )
    if max(row[2] for row in rows) <= NEAR_ZERO[unit]:
        raise TableRefused("There is no lift in this table. Give the lobe’s lift in the second column.")
