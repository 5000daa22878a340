"""What moved between the job that an engine left with and its return, as a return report says it."""

from collections.abc import Iterator, Sequence

from builds.comparing import Compared, by_moved, compare
from builds.models import Build
from valvetrain.sheets.return_lines import ChangeLine, ChangeLines

MOST_MOVED = 12


def change_lines(build: Build, unit: str) -> ChangeLines:
    """As found beside as built, what moved most first. A constant number of queries."""
    compared = compare(build, unit)
    moved = [line for line in by_moved(compared) if line.told_apart or _unknown(line)]
    return ChangeLines(
        moved=[_line(line) for line in moved[:MOST_MOVED]],
        out_now=[_line(line) for line in compared if line.out_now],
        counted=list(_counted(compared, moved)),
        read_twice=sum(line.change is not None for line in compared),
        read_now=sum(line.now.value is not None for line in compared),
    )


def _unknown(line: Compared) -> bool:
    """Whether it moved by nobody knows how many U."""
    return bool(line.change) and line.moved is None


def _counted(compared: Sequence[Compared], moved: Sequence[Compared]) -> Iterator[str]:
    both = sum(line.change is not None for line in compared)
    apart = sum(line.told_apart for line in compared)
    unknown = sum(_unknown(line) for line in compared)
    if both:
        yield _of_both(both, apart, unknown)
    if len(moved) > MOST_MOVED:
        yield f"{len(moved) - MOST_MOVED} that moved less than those above are in the book and not printed here."
    only_now = sum(line.then.value is None and line.now.value is not None for line in compared)
    only_then = sum(line.now.value is None and line.then.value is not None for line in compared)
    if only_now:
        yield f"{_values(only_now)} read as found only."
    if only_then:
        yield f"{_values(only_then)} read when it left and not as found: nothing is said of {_them(only_then)}."


def _of_both(both: int, apart: int, unknown: int) -> str:
    doubtful = f", {unknown} by an amount whose U is not known" if unknown else ""
    return (
        f"{_values(both)} read both when it left and as found: {apart} moved by more than U, {both - apart - unknown} by "
        f"less or not at all{doubtful}."
    )


def _values(count: int) -> str:
    return "1 value was" if count == 1 else f"{count} values were"


def _them(count: int) -> str:
    return "it" if count == 1 else "them"


def _what(line: Compared) -> str:
    """What was measured; with its step of the log where the name alone would leave that open: width (witness mark)."""
    step = line.step_name.lower()
    told = any(word.rstrip("s") in line.name for word in step.split())
    return line.name if told else f"{line.name} ({step})"


def _line(line: Compared) -> ChangeLine:
    then, now = line.then.value is not None, line.now.value is not None
    return ChangeLine(
        key=f"{line.position}/{line.key}",
        where=line.position,
        what=_what(line),
        unit=line.unit,
        then=line.then_words if then else "",
        now=line.now_words if now else "",
        change=line.change_words if then and now else "",
        plus_minus=line.expanded_words.removesuffix(f" {line.unit}"),
        in_u=line.moved_words,
        limit_then=line.then_limit_words,
        limit_now=line.now_limit_words,
        verdict_then=line.then.verdict,
        verdict_now=line.now.verdict,
        lacks=line.lacks,
        note=line.note,
    )
