"""How a job stands in a step of its log."""

from decimal import Decimal
from uuid import uuid4

import pytest

from builds.characteristics import Characteristic, UnknownCharacteristic, get
from builds.limits import LimitFor
from builds.logcells import Cell, Row, StepState
from builds.models import Build, Limit, Person, Reading
from builds.recording import Entry, record, strike_out
from builds.steps import Derived, get_step
from builds.worklog import WorkLog


def read(job: Build, person: Person, position: str, key: str, text: str, **more: object) -> Reading:
    """Write one reading."""
    entry = Entry(uuid4(), position, key, text, str(more.pop("unit", "in")), **more)  # type: ignore[arg-type]
    return record(job, person, entry)[0]


def cell(job: Build, position: str, key: str, unit: str = "in") -> Cell:
    """One cell as it stands now."""
    return WorkLog(job, unit).cell(position, get(key))


def figure(job: Build, step: str, position: str, key: str, unit: str = "in"):
    """One figure as it stands now."""
    row = WorkLog(job, unit).state(get_step(step)).row(position)
    return next(each for each in row.figures if each.derived.key == key)


@pytest.fixture
def bore_limit(job: Build) -> Limit:
    """The job's own limit of the bore."""
    return Limit.objects.create(
        build=job,
        key="bore",
        name="bore",
        low=Decimal("4.0295"),
        high=Decimal("4.0305"),
        source="maker's sheet",
    )


def test_nothing_read_is_to_do(job: Build):
    found = cell(job, "cyl1", "bore")
    assert (found.word, found.drawn_as, found.newest_text, found.mean) == ("to read", "todo", "", None)


def test_what_is_read_and_not_judged_is_kept(job: Build, builder: Person):
    read(job, builder, "cyl1", "bore", "4.030")
    found = cell(job, "cyl1", "bore")
    assert (found.word, found.drawn_as, found.newest_text) == ("kept", "done", "4.030")


def test_repeats_are_averaged_and_the_mean_is_judged(job: Build, builder: Person, bore_limit: Limit):
    """Hand-worked: mean of 4.0300, 4.0306, 4.0303 is 4.0303; the middle one alone would be out."""
    for text in ("4.0300", "4.0306", "4.0303"):
        read(job, builder, "cyl1", "bore", text)
    found = cell(job, "cyl1", "bore")
    assert found.mean == Decimal("4.0303")
    assert found.verdict == "in"
    assert found.repeats_words == "mean 4.0303 of 3, range 0.0006"


@pytest.mark.parametrize(
    ("text", "verdict"), [("4.0295", "in"), ("4.0305", "in"), ("4.0294", "out"), ("4.0306", "out")]
)
def test_exactly_at_a_limit_is_in(job: Build, builder: Person, bore_limit: Limit, text: str, verdict: str):
    read(job, builder, "cyl1", "bore", text)
    assert cell(job, "cyl1", "bore").verdict == verdict


def test_a_mean_of_thirds_at_the_limit_is_in(job: Build, builder: Person):
    """The last figure of a division must not decide: 2.1, 2.1 and 2.2 thousandths have the mean 6.4/3."""
    third = (Decimal("0.0021") + Decimal("0.0021") + Decimal("0.0022")) / 3
    Limit.objects.create(
        build=job, key="main_clearance", name="x", low=None, high=third.quantize(Decimal("1e-10")), source="x"
    )
    for text in ("0.0021", "0.0021", "0.0022"):
        read(job, builder, "main1", "main_clearance", text)
    assert cell(job, "main1", "main_clearance").verdict == "in"


def test_work_in_between_begins_a_new_set(job: Build, builder: Person):
    read(job, builder, "cyl1", "ring_gap_top", "0.012", context={"set": 0})
    read(job, builder, "cyl1", "ring_gap_top", "0.018", context={"set": 1})
    found = cell(job, "cyl1", "ring_gap_top")
    assert (found.mean, found.earlier, found.set_number) == (Decimal("0.018"), 1, 1)


def test_a_corrected_reading_no_longer_counts(job: Build, builder: Person):
    wrong = read(job, builder, "cyl1", "bore", "4.300")
    read(job, builder, "cyl1", "bore", "4.030", corrects=wrong, reason="typed wrong")
    assert cell(job, "cyl1", "bore").mean == Decimal("4.030")


def test_a_reading_taken_back_leaves_the_cell_empty(job: Build, builder: Person):
    wrong = read(job, builder, "cyl1", "bore", "4.030")
    strike_out(job, builder, client_id=uuid4(), reading=wrong, reason="wrong cylinder")
    assert cell(job, "cyl1", "bore").word == "to read"


def test_taking_a_reading_in_is_the_same_as_reading_it_afresh(job: Build, builder: Person):
    log = WorkLog(job)
    first = read(job, builder, "cyl1", "bore", "4.300")
    log.take_in(first)
    log.take_in(read(job, builder, "cyl1", "bore", "4.031", corrects=first, reason="typed wrong"))
    log.take_in(read(job, builder, "cyl1", "bore", "4.029"))
    step = get_step("cylinders")
    assert log.state(step).row("cyl1") == WorkLog(job).state(step).row("cyl1")


def test_a_reading_shows_as_typed_to_who_reads_its_unit_and_converted_to_others(job: Build, builder: Person):
    read(job, builder, "cyl1", "bore", "4.0300")
    assert cell(job, "cyl1", "bore").newest_text == "4.0300"
    assert cell(job, "cyl1", "bore", "mm").newest_text == "102.362"


def test_a_figure_waits_until_all_it_needs_is_read(job: Build, builder: Person):
    assert not figure(job, "cylinders", "cyl1", "piston_clearance").shown
    read(job, builder, "cyl1", "bore", "4.0300")
    waits = figure(job, "cylinders", "cyl1", "piston_clearance")
    assert (waits.shown, waits.value, waits.words) == (True, None, "waits for piston diameter")
    read(job, builder, "cyl1", "piston_diameter", "4.0255")
    assert figure(job, "cylinders", "cyl1", "piston_clearance").words == "0.0045 in"


def test_a_figure_is_judged(job: Build, builder: Person):
    Limit.objects.create(
        build=job, key="piston_clearance", name="x", low=Decimal("0.005"), source="maker's sheet"
    )
    read(job, builder, "cyl1", "bore", "4.0300")
    read(job, builder, "cyl1", "piston_diameter", "4.0255")
    state = WorkLog(job).state(get_step("cylinders"))
    assert state.row("cyl1").out == ["piston clearance"]
    assert (state.status, state.tally) == ("out", "0 of 8 read, 1 out of limit")


def test_what_is_known_otherwise_is_told_for_an_address_or_for_everywhere(job: Build):
    log = WorkLog(job)
    log.known["cyl1"]["bore"], log.known[""]["bore"] = Decimal("4.03"), Decimal("4")
    assert [log.known_of(place, "bore") for place in ("cyl1", "cyl2")] == [Decimal("4.03"), Decimal(4)]
    assert log.known_of("cyl1", "ring_gap_top") is None


def test_a_piston_larger_than_its_bore_is_marked_where_no_limit_is_set(job: Build, builder: Person):
    """Hand-worked: 4.0000 − 4.0100 = −.0100, which no engine has."""
    Limit.objects.filter(key="piston_clearance").delete()
    read(job, builder, "cyl1", "bore", "4.0000")
    read(job, builder, "cyl1", "piston_diameter", "4.0100")
    found = figure(job, "cylinders", "cyl1", "piston_clearance")
    assert (found.words, found.verdict, found.drawn_as) == ("−0.0100 in", "out", "out")
    assert found.unlikely == "the piston is larger than its bore: read one of them again."
    state = WorkLog(job).state(get_step("cylinders"))
    assert (state.row("cyl1").out, state.row("cyl1").status) == (["piston clearance"], "out")


def test_volumes_that_leave_no_room_are_said_and_not_passed_over(job: Build, builder: Person):
    job.engine.stroke = Decimal("3.5")
    job.engine.save()
    for key, text, unit in (
        ("chamber_volume", "40", "cc"), ("crown_volume", "60", "cc"), ("gasket_bore", "4.1", "in"),
        ("gasket_thickness", "0.040", "in"),
    ):  # fmt: skip
        read(job, builder, "engine", key, text, unit=unit)
    read(job, builder, "cyl1", "bore", "4.000")
    read(job, builder, "cyl1", "deck_clearance", "0.005")
    found = figure(job, "block", "engine", "compression")
    assert (found.shown, found.words, found.verdict) == (True, "cannot be", "out")


def test_compression_takes_the_mean_of_the_cylinders(job: Build, builder: Person):
    """Hand-worked in test_shortblock: bore 4.000 and deck .005 as the mean of two cylinders each give 10.05."""
    job.engine.stroke = Decimal("3.5")
    job.engine.save()
    for position, bore, deck in (("cyl1", "3.999", "0.004"), ("cyl2", "4.001", "0.006")):
        read(job, builder, position, "bore", bore)
        read(job, builder, position, "deck_clearance", deck)
    for key, text, unit in (
        ("chamber_volume", "64", "cc"), ("crown_volume", "-6", "cc"), ("gasket_bore", "4.1", "in"),
        ("gasket_thickness", "0.04", "in"),
    ):  # fmt: skip
        read(job, builder, "engine", key, text, unit=unit)
    found = figure(job, "block", "engine", "compression")
    assert found.words == "10.05 ×"
    assert found.counted_words == "bore: mean of 2, deck clearance: mean of 2"


def test_displacement_is_told_in_the_readers_unit(job: Build):
    """Published: NAVEDTRA 14264, chapter 2: 307.44 in³, its figures rounded; π/4 gives 307.9."""
    job.engine.bore, job.engine.stroke = Decimal("3.5"), Decimal(4)
    job.engine.save()
    assert figure(job, "block", "engine", "displacement").words == "307.9 in³"
    assert figure(job, "block", "engine", "displacement", "mm").words == "5045.2 cc"


def test_an_optional_reading_is_not_missed(job: Build, builder: Person):
    row = Row(
        "1E",
        (empty_cell("lash_cold"), empty_cell("lash_hot", optional=True)),
        (),
        "",
        frozenset({"lash_hot"}),
    )
    assert (row.missing, row.status) == (["lash, cold"], "todo")
    assert [each.word for each in row.cells] == ["to read", "optional"]


def empty_cell(key: str, *, optional: bool = False) -> Cell:
    """A cell in which nothing is read."""
    return Cell("1E", get(key), (), 0, 0, None, "in", optional=optional)


def test_a_step_without_addresses_says_so(job: Build):
    assert WorkLog(job).state(get_step("springs")).tally == "no valve here"
    assert StepState(get_step("springs"), ()).status == "todo"


def test_a_row_out_of_limit_is_out_even_when_something_is_missing():
    limit = LimitFor(Decimal(0), Decimal("0.01"), "x")
    reading = Reading(value=Decimal("0.02"), text="0.02", unit="in")
    out = Cell("1E", get("lash_cold"), (reading,), 0, 0, limit, "in")
    row = Row("1E", (out, empty_cell("lash_hot")), (), "", frozenset())
    assert (row.status, row.status_word) == ("out", "out")


def test_what_is_not_in_the_registry_is_not_measured():
    with pytest.raises(UnknownCharacteristic):
        get("paint_thickness")
    assert isinstance(get("bore"), Characteristic)


def test_a_correction_of_the_tool_is_kept_and_added(job: Build, builder: Person):
    """Hand-worked: the means 7.910 and, of corrections .020 + .015 and .025 + .015, .0375."""
    values = {"pushrod_length": Decimal("7.91"), "pushrod_length_correction": Decimal("0.0375")}
    derived: Derived = get_step("pushrods").derived[0]
    assert derived.work(values) == Decimal("7.9475")
    assert derived.work({"pushrod_length": Decimal("7.91")}) == Decimal("7.91")
