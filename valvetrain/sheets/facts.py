"""What stands at the head of a sheet: letterhead, job, rockers, cam card and limits, as names with their words."""

from decimal import Decimal

from builds.measures import show
from builds.models import Build, Limit, Shop
from valvetrain.models import CamCard, Head, RockerSet
from valvetrain.sheets.snapshot import Fact, LimitLine
from valvetrain.sheets.words import day

LIMITS_USED = ("stand_height", "sweep", "engagement_aluminium", "engagement_iron")


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


def limits(head: Head, unit: str) -> list[LimitLine]:
    """The limits that judge this head; of the threads', the one for its material."""
    wanted = {key for key in LIMITS_USED if not key.startswith("engagement_") or key.endswith(head.material)}
    return [
        LimitLine(limit.name, _limit_words(limit, unit), limit.source)
        for limit in Limit.objects.filter(key__in=wanted)
    ]


def _limit_words(limit: Limit, unit: str) -> str:
    if limit.unit_kind == "ratio":
        return f"at least {(limit.low or limit.high or Decimal(0)).normalize():f} bolt diameters"
    return limit.value_in(unit)
