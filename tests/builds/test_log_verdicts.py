"""In, undecided, out in the steps of the log: what is read there, and the figures that follow from it."""

from decimal import Decimal
from uuid import uuid4

import pytest

from builds.characteristics import get
from builds.logcells import Cell
from builds.models import Build, Limit, Person, Shop, UsualUncertainty
from builds.recording import Entry, record
from builds.steps import get_step
from builds.worklog import WorkLog


@pytest.fixture
def bore_limit(job: Build) -> Limit:
    """A bore of 4.0300 ± .0005, read with no tool named, which the shop takes for ± .0002."""
    UsualUncertainty.objects.filter(key__in=("micrometer", "other")).update(uncertainty=Decimal("0.0002"))
    low, high = Decimal("4.0295"), Decimal("4.0305")
    return Limit.objects.create(
        build=job, key="bore", name="bore", low=low, high=high, source="maker’s sheet"
    )


def read_bore(job: Build, person: Person, text: str) -> Cell:
    record(job, person, Entry(uuid4(), "cyl1", "bore", text, "in"))
    return WorkLog(job).cell("cyl1", get("bore"))


@pytest.mark.parametrize(
    ("bore", "off", "on"),
    [
        ("4.0303", "in", "in"),
        ("4.0304", "in", "undecided"),
        ("4.0305", "in", "undecided"),
        ("4.0306", "out", "undecided"),
        ("4.0308", "out", "out"),
    ],
)
def test_a_step_of_the_log_is_judged_by_the_shops_rule(
    job: Build, builder: Person, bore_limit: Limit, bore: str, off: str, on: str
) -> None:
    assert read_bore(job, builder, bore).verdict == off
    Shop.get()
    Shop.objects.update(guard_band=True)
    found = WorkLog(job).cell("cyl1", get("bore"))
    assert (found.verdict, found.doubt_words) == (on, "± 0.0002 in")


def test_an_undecided_step_is_not_done_and_says_so(job: Build, builder: Person, bore_limit: Limit) -> None:
    Shop.get()
    Shop.objects.update(guard_band=True)
    record(job, builder, Entry(uuid4(), "cyl1", "bore", "4.0305", "in"))
    state = WorkLog(job).state(get_step("cylinders"))
    row = state.row("cyl1")
    assert row is not None
    assert row.undecided == ["bore"]
    assert "1 undecided" in state.tally
    assert row.out == []


def test_a_figure_is_judged_with_the_uncertainty_of_what_it_follows_from(job: Build, builder: Person) -> None:
    """Hand-worked: bore and piston ± .0002 each at k = 2, clearance ± .00028: .0050 is too near at least .0049."""
    UsualUncertainty.objects.filter(key__in=("micrometer", "other")).update(uncertainty=Decimal("0.0002"))
    Limit.objects.create(
        build=job, key="piston_clearance", name="x", low=Decimal("0.0049"), source="maker’s sheet"
    )
    Shop.get()
    Shop.objects.update(guard_band=True)
    read_bore(job, builder, "4.0300")
    record(job, builder, Entry(uuid4(), "cyl1", "piston_diameter", "4.0250", "in"))
    row = WorkLog(job).state(get_step("cylinders")).row("cyl1")
    assert row is not None
    figure = next(each for each in row.figures if each.derived.key == "piston_clearance")
    assert figure.standard == pytest.approx(0.0001 * 2**0.5)
    assert (figure.verdict, figure.doubt_words) == ("undecided", "± 0.0003 in")
