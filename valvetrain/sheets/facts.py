"""What stands at the head of a sheet: letterhead, job, rockers, cam card and limits, as names with their words."""

from collections.abc import Mapping

from builds.measures import show
from builds.models import Build, Shop
from valvetrain.gathering import LimitValue
from valvetrain.models import CamCard, Head, RockerSet
from valvetrain.sheets.snapshot import Fact, LimitLine
from valvetrain.sheets.words import day

LIMITS_USED = {
    "stand_height": "stand height",
    "sweep": "sweep on the tip",
    "engagement_aluminium": "thread engagement in aluminium",
    "engagement_iron": "thread engagement in iron",
}


def letterhead(shop: Shop) -> list[str]:
    """The shop, line by line, its name first."""
    lines = [shop.name, *shop.address.splitlines(), shop.phone, shop.email]
    return [line.strip() for line in lines if line.strip()]


def title(build: Build) -> list[Fact]:
    """The job: whose engine it is and what is to be done."""
    engine = build.engine
    facts = [
        ("customer", engine.customer.name), ("engine", engine.name), ("serial number", engine.serial),
        ("firing order", engine.firing_order), ("what is to be done", build.title), ("opened", day(build.opened_on)),
        ("went out", day(build.went_out_on)),
    ]  # fmt: skip
    return [Fact(name, text) for name, text in facts if text]


def rockers(rocker_set: RockerSet, unit: str) -> list[Fact]:
    """One rocker set by its dimensions."""
    facts = [
        ("works", rocker_set.get_fits_display()), ("name", rocker_set.name), ("material", rocker_set.material),
        ("arm length", show(rocker_set.arm_length, unit)), ("roller diameter", show(rocker_set.tip_diameter, unit)),
        ("shaft diameter", show(rocker_set.shaft_diameter, unit)), ("nominal ratio", f"{rocker_set.ratio.normalize():f}"),
        ("square at", f"{rocker_set.square_at.normalize():f} of lift"),
    ]  # fmt: skip
    return [Fact(name, text) for name, text in facts if text]


def cam(card: CamCard | None, unit: str) -> list[Fact]:
    """The card's numbers, those it has, under their own names."""
    if card is None:
        return []
    facts = [Fact("cam", card.name)] if card.name else []
    for field in card._meta.fields:
        kind = getattr(field, "unit_kind", None)
        value = getattr(card, field.name)
        if kind is not None and value is not None:
            shown = show(value, unit) if kind == "length" else show(value, "°", with_unit=True)
            facts.append(Fact(str(field.verbose_name), shown))
    return facts


def limits(head: Head, judged_by: Mapping[str, LimitValue], unit: str) -> list[LimitLine]:
    """The limits that judged this head; of the threads', the one for its material."""
    wanted = [key for key in LIMITS_USED if not key.startswith("engagement_") or key.endswith(head.material)]
    return [
        LimitLine(LIMITS_USED[key], _limit_words(key, judged_by[key], unit), judged_by[key].source)
        for key in wanted
        if key in judged_by
    ]


def _limit_words(key: str, limit: LimitValue, unit: str) -> str:
    if key.startswith("engagement_"):
        return "not set" if limit.low is None else f"at least {limit.low:g} bolt diameters"
    if limit.low is None:
        return f"at most {show(limit.high, unit, with_unit=True)}"
    if limit.high is None:
        return f"at least {show(limit.low, unit, with_unit=True)}"
    return f"{show(limit.low, unit, sign=True)} to {show(limit.high, unit, sign=True, with_unit=True)}"
