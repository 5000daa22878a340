"""How the upper floor's edits are told: what each record is called, and where it belongs."""

from collections.abc import Callable
from typing import Any

from builds.edits import Trace, as_a, plainly, traces
from builds.measures import for_field
from valvetrain.models import (
    CamCard,
    Head,
    HeightGauge,
    LobePoint,
    LobeTable,
    MovingMasses,
    Pad,
    PistonSide,
    PushrodSide,
    RockerSet,
    ShimStock,
    SpringSheet,
    Stand,
    Trial,
    Valve,
)

KEPT_BY_ITSELF = frozenset({"stood", "changes", "kept_by"})


def _head(head: Head, unit: str) -> str:
    return f"layout {head.layout_name}" if head.is_layout else head.name


def _address(record: Any, unit: str) -> str:
    """The printed address: 3E, L.stand2; on a layout of the shelf with the layout before it."""
    head = record.stand.head if isinstance(record, Pad) else record.head
    return f"layout {head.layout_name}: {record.address}" if head.is_layout else str(record.address)


def _for_valves(what: str) -> Callable[[Any, str], str]:
    """A card or sheet for some of the valves: spring sheet, exhaust."""
    return lambda record, unit: f"{what}, {record.get_fits_display()}"


def _row_of_lobe(point: LobePoint, unit: str) -> str:
    return f"{point.table} at {for_field(point.lift, unit)} {unit}"


def _shim(shim: ShimStock, unit: str) -> str:
    return f"shim {for_field(shim.thickness, unit)} {unit}"


def _gauge(gauge: HeightGauge, unit: str) -> str:
    return f"height gauge {gauge.instrument.mark}"


def register_traces() -> None:
    """Enter the models of this floor."""
    # A head without a job is a layout on the shop's shelf.
    on_a_head: dict[str, Any] = {"on_job": True, "in_shop": True, "between": " "}
    traces.extend(
        [
            Trace(Head, _head, on_job=True, in_shop=True),
            Trace(Stand, _address, within=("head",), **on_a_head),
            Trace(Pad, _address, within=("stand", "head"), **on_a_head),
            Trace(Valve, _address, within=("head",), **on_a_head),
            Trace(RockerSet, _for_valves("rockers"), on_job=True),
            Trace(CamCard, plainly("cam card"), on_job=True),
            Trace(SpringSheet, _for_valves("spring sheet"), on_job=True),
            Trace(PushrodSide, _for_valves("pushrod’s side"), on_job=True),
            Trace(MovingMasses, _for_valves("moving masses"), on_job=True, many="records of moving masses"),
            Trace(PistonSide, _for_valves("piston’s side"), on_job=True),
            Trace(LobeTable, lambda table, unit: str(table), on_job=True),
            Trace(LobePoint, _row_of_lobe, within=("table",), on_job=True, many="rows of a lobe"),
            Trace(Trial, as_a("trial"), on_job=True, hidden=KEPT_BY_ITSELF),
            Trace(HeightGauge, _gauge, within=("instrument",), in_shop=True),
            Trace(ShimStock, _shim, in_shop=True, many="shims"),
        ]
    )
