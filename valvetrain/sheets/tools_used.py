"""The instruments that a sheet was read with."""

from collections.abc import Iterable, Mapping

from builds.models import Instrument, Reading
from valvetrain.models import HeightGauge
from valvetrain.sheets.snapshot import GaugeLine
from valvetrain.sheets.words import day


def gauge_lines(readings: Iterable[Reading], gauges: Mapping[int, HeightGauge]) -> list[GaugeLine]:
    """Every instrument that these were read with, once. `gauges` are height gauges by their instrument's key."""
    used = {
        reading.instrument.pk: reading.instrument for reading in readings if reading.instrument is not None
    }
    return tool_lines(used.values(), gauges)


def tool_lines(tools: Iterable[Instrument], gauges: Mapping[int, HeightGauge]) -> list[GaugeLine]:
    """Instruments by their marks, with when they were checked."""
    return [_line(tool, gauges.get(tool.pk)) for tool in sorted(tools, key=lambda tool: tool.mark)]


def _line(tool: Instrument, gauge: HeightGauge | None) -> GaugeLine:
    return GaugeLine(
        mark=tool.mark,
        kind=" ".join(filter(None, [tool.get_kind_display(), tool.name, tool.serial])),
        reads_to=float(tool.resolution) if tool.resolution is not None else None,
        step=gauge.step_value() if gauge else None,
        dummy=float(gauge.dummy_diameter) if gauge and gauge.dummy_diameter else None,
        checked=day(tool.last_checked_on),
        due=day(tool.due_on),
        overdue=tool.overdue(),
    )
