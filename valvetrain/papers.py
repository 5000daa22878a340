"""What a job's papers say to the steps of its log: values, limits, figures to show beside, and sentences.

The papers are the cam card and the springs' own sheets.
"""

from collections.abc import Iterable, Mapping
from decimal import Decimal

from django.urls import reverse

from builds.limits import LimitFor, around
from builds.measures import show, unit_for
from builds.models import Build
from builds.steps import Note, Step
from valvetrain.changes import inputs_of
from valvetrain.gathering import gather
from valvetrain.models import CamCard, FitsValves, Head, SpringSheet, Valve, ValveKind

# Piston to valve is one thing to measure, with a limit for each kind of valve.
SPLIT_LIMITS = {"piston_to_valve": ("piston_to_valve_intake", "piston_to_valve_exhaust")}

# What is read when a cam is degreed, and what the card prints of the same name.
ON_THE_CARD = (
    "intake_centreline", "exhaust_centreline", "intake_opens", "intake_closes", "exhaust_opens", "exhaust_closes",
    "intake_duration", "exhaust_duration", "lobe_separation",
)  # fmt: skip
JUDGED_BY_CARD = ("intake_centreline", "exhaust_centreline")
# What a spring's sheet has beside what is read on the tester.
ON_THE_SHEET = ("installed_height", "seat_load", "open_load", "solid_height")


def valves_of(build: Build) -> list[Valve]:
    """Every valve of a build, head after head."""
    return list(
        Valve.objects.filter(head__build=build).select_related("head").order_by("head", "order", "pk")
    )


def sheets_of(build: Build) -> dict[str, SpringSheet]:
    """The spring sheets of a build by the valves they are under."""
    return {sheet.fits: sheet for sheet in SpringSheet.objects.filter(build=build)}


def sheet_for(sheets: Mapping[str, SpringSheet], kind: str) -> SpringSheet | None:
    """The sheet of the springs under a kind of valve."""
    return sheets.get(kind) or sheets.get(FitsValves.BOTH)


def kinds_without_springs(sheets: Iterable[SpringSheet]) -> list[ValveKind]:
    """Kinds of valve that no spring sheet of the job is for."""
    known = {sheet.fits: sheet for sheet in sheets}
    return [kind for kind in ValveKind if sheet_for(known, kind.value) is None]


def card_of(build: Build) -> CamCard | None:
    """The cam card of a build."""
    return CamCard.objects.filter(build=build).first()


def valve_values(build: Build) -> dict[tuple[str, str], Decimal]:
    """What is known of each valve otherwise: its net lift, its tip, its cam card's lash, and its spring's sheet."""
    found: dict[tuple[str, str], Decimal] = {}
    heads = list(Head.objects.filter(build=build).select_related("build__engine__customer"))
    sheets = sheets_of(build)
    for records in gather(heads):
        for valve in (valve for on_stand in records.valves_on.values() for valve in on_stand):
            lift = inputs_of(records, valve).lift
            if lift is not None:
                found[valve.address, "net_lift"] = Decimal(repr(lift))
            found[valve.address, "valve_tip_radius"] = valve.tip_diameter / 2
            if records.build.cam_card is not None:
                found[valve.address, "card_lash"] = records.build.cam_card.lash(valve.kind)
            sheet = sheet_for(sheets, valve.kind)
            if sheet is not None:
                found[valve.address, "sheet_installed_height"] = sheet.installed_height
                found[valve.address, "solid_height"] = sheet.solid_height
    return found


def paper_limits(build: Build, below: Mapping[str, LimitFor]) -> dict[tuple[str, str], LimitFor]:
    """Limits that follow from the job's papers: lash and centrelines from the cam card, springs from their sheet."""
    return limits_on_papers(valves_of(build), card_of(build), sheets_of(build), below)


def limits_on_papers(
    valves: Iterable[Valve],
    card: CamCard | None,
    sheets: Mapping[str, SpringSheet],
    below: Mapping[str, LimitFor],
) -> dict[tuple[str, str], LimitFor]:
    """The same from papers that are at hand."""
    found: dict[tuple[str, str], LimitFor] = {}
    for valve in valves:
        intake, exhaust = SPLIT_LIMITS["piston_to_valve"]
        room = below.get(intake if valve.kind == ValveKind.INTAKE else exhaust)
        if room is not None:
            found["piston_to_valve", valve.address] = room
        if card is not None and "lash_tolerance" in below:
            key, paper = ("lash_hot", "cam card, hot") if card.lash_is_hot else ("lash", "cam card")
            found[key, valve.address] = around(card.lash(valve.kind), below["lash_tolerance"], paper)
        sheet = sheet_for(sheets, valve.kind)
        if sheet is not None:
            found.update(_spring_limits(valve.address, sheet, below))
    if card is not None and "centreline_tolerance" in below:
        for name in JUDGED_BY_CARD:
            wanted = getattr(card, name)
            if wanted is not None:
                found[name, ""] = around(wanted, below["centreline_tolerance"], "cam card")
    return found


def _spring_limits(
    address: str, sheet: SpringSheet, below: Mapping[str, LimitFor]
) -> dict[tuple[str, str], LimitFor]:
    found = {}
    if "installed_height_tolerance" in below:
        found["installed_height", address] = around(
            sheet.installed_height, below["installed_height_tolerance"], "spring sheet"
        )
    share = below.get("seat_load_tolerance")
    if share is not None and share.high is not None:
        low, high = sheet.seat_load * (1 - share.high / 100), sheet.seat_load * (1 + share.high / 100)
        found["seat_load", address] = LimitFor(low, high, f"spring sheet; {share.source}", "force")
    return found


def beside(build: Build, step: Step, length_unit: str) -> dict[tuple[str, str], str]:
    """What the card or the sheet prints, to stand beside what is read."""
    if step.key == "degreeing":
        card = card_of(build)
        return {} if card is None else _card_figures(card)
    if step.key == "lash":
        return _card_lash(build, length_unit)
    if step.key == "springs":
        sheets = sheets_of(build)
        return {
            (valve.address, name): told
            for valve in valves_of(build)
            if (sheet := sheet_for(sheets, valve.kind)) is not None
            for name, told in _sheet_figures(sheet, length_unit).items()
        }
    return {}


def _card_figures(card: CamCard) -> dict[tuple[str, str], str]:
    return {
        ("engine", name): f"card {show(wanted, '°', with_unit=True)}"
        for name in ON_THE_CARD
        if (wanted := getattr(card, name)) is not None
    }


def _card_lash(build: Build, length_unit: str) -> dict[tuple[str, str], str]:
    """The card's lash at each valve, beside the reading at the heat that the card means; one query for both."""
    unit = unit_for("length", length_unit)
    found = {}
    for valve in Valve.objects.filter(head__build=build).select_related("head__build__cam_card"):
        card = getattr(valve.head.build, "cam_card", None)
        if card is not None:
            taken = "lash_hot" if card.lash_is_hot else "lash_cold"
            found[valve.address, taken] = f"card {show(card.lash(valve.kind), unit, with_unit=True)}"
    return found


def _sheet_figures(sheet: SpringSheet, length_unit: str) -> dict[str, str]:
    found = {}
    for name in ON_THE_SHEET:
        value = getattr(sheet, name)
        if value is not None:
            kind = SpringSheet._meta.get_field(name).unit_kind  # type: ignore[union-attr]
            found[name] = f"sheet {show(value, unit_for(kind, length_unit), with_unit=True)}"
    if sheet.open_load is not None and sheet.open_height is not None:
        found["open_load"] += f" at {show(sheet.open_height, length_unit, with_unit=True)}"
    rate = sheet.rate()
    if rate is not None:
        found["spring_rate"] = f"sheet {show(rate, unit_for('rate', length_unit), with_unit=True)}"
    return found


def notes(build: Build, step: Step) -> list[Note]:
    """Sentences at the head of a step: what the papers lack, and where they contradict themselves."""
    if step.key == "degreeing":
        return _card_notes(build)
    if step.key == "springs":
        return _spring_notes(build)
    return []


def _card_notes(build: Build) -> list[Note]:
    card = card_of(build)
    url = reverse("cam-card", args=[build.pk])
    if card is None:
        return [Note("There is no cam card to compare with.", *_open(build, url, "Enter the cam card"))]
    wrong = card.disagreements()
    if wrong:
        told = f"The card’s own numbers disagree: {'; '.join(wrong)}."
        return [Note(told, *_open(build, url, "Look at the cam card"))]
    events = (card.intake_opens, card.intake_closes, card.exhaust_opens, card.exhaust_closes)
    if None in events:
        return [Note("The card has not all four events, so it cannot be checked against itself.")]
    return [Note("The card’s own numbers agree with one another.")]


def _spring_notes(build: Build) -> list[Note]:
    sheets = sheets_of(build)
    found = [
        Note(
            f"{sheet}, under {sheet.get_fits_display()}.",
            *_open(build, reverse("spring-sheet-edit", args=[sheet.pk]), "Change the sheet"),
        )
        for sheet in sheets.values()
    ]
    lacking = [kind.label for kind in kinds_without_springs(sheets.values())]
    if lacking:
        told = (
            f"No spring sheet for {' and '.join(lacking)}: heights and loads are written down and not judged."
        )
        url = reverse("spring-sheet-new", args=[build.pk])
        found.append(Note(told, *_open(build, url, "Enter the spring sheet")))
    return found


def _open(build: Build, url: str, link: str) -> tuple[str, str]:
    """A way to a form, while the job takes changes."""
    return (url, link) if build.takes_readings else ("", "")
