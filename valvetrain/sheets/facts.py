"""What stands at the head of a sheet: letterhead, job, rockers, cam card and limits, as names with their words."""

from collections.abc import Mapping
from decimal import Decimal

from builds.measures import show
from builds.models import Build, Shop
from valvetrain.gathering import LimitValue
from valvetrain.models import CamCard, Head, RockerSet
from valvetrain.models.cam import LashTaken
from valvetrain.sheets.snapshot import CamLine, Fact, LimitLine
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
    """What the card says once: its name, where its events are timed, and the lobe separation."""
    if card is None:
        return []
    facts = [
        ("cam", card.name), ("events timed at lobe lift", _length(card.timed_at, unit)),
        ("lobe separation", _angle(card.lobe_separation)),
    ]  # fmt: skip
    return [Fact(name, text) for name, text in facts if text]


def cam_lines(card: CamCard | None, unit: str) -> list[CamLine]:
    """What the card says of each valve, side by side; lines that it leaves open are left out."""
    if card is None:
        return []
    lines = [
        CamLine("lobe lift", _length(card.intake_lobe_lift, unit), _length(card.exhaust_lobe_lift, unit)),
        CamLine(f"lash, {_lash_taken(card)}", _length(card.intake_lash, unit), _length(card.exhaust_lash, unit)),
        CamLine("duration", _angle(card.intake_duration), _angle(card.exhaust_duration)),
        CamLine("opens", _angle(card.intake_opens, "BTDC"), _angle(card.exhaust_opens, "BBDC")),
        CamLine("closes", _angle(card.intake_closes, "ABDC"), _angle(card.exhaust_closes, "ATDC")),
        CamLine("centreline", _angle(card.intake_centreline, "ATDC"), _angle(card.exhaust_centreline, "BTDC")),
    ]  # fmt: skip
    return [line for line in lines if line.intake or line.exhaust]


def _lash_taken(card: CamCard) -> str:
    """At which heat the card means its lash, and what is taken where it does not say."""
    return {LashTaken.HOT: "hot", LashTaken.COLD: "cold"}.get(
        LashTaken(card.lash_taken), "taken for cold: the card does not say"
    )


def _length(value: Decimal | None, unit: str) -> str:
    return "" if value is None else show(value, unit)


def _angle(value: Decimal | None, counted: str = "") -> str:
    """An angle as it is said, 31° BTDC: whole degrees without a point."""
    if value is None:
        return ""
    text = show(value, "°")
    return f"{text.rstrip('0').rstrip('.')}° {counted}".strip()


def limits(head: Head, judged_by: Mapping[str, LimitValue], unit: str) -> list[LimitLine]:
    """The limits that judged this head; of the threads', the one for its material."""
    wanted = [key for key in LIMITS_USED if not key.startswith("engagement_") or key.endswith(head.material)]
    return [
        LimitLine(LIMITS_USED[key], limit_words(key, judged_by[key], unit), judged_by[key].source)
        for key in wanted
        if key in judged_by
    ]


def limit_words(key: str, limit: LimitValue, unit: str) -> str:
    """A limit as a sheet says it: at most 0.0800 in, ±0.0050 in."""
    if key.startswith("engagement_"):
        return "not set" if limit.low is None else f"at least {limit.low:g} bolt diameters"
    if limit.low is None:
        return f"at most {show(limit.high, unit, with_unit=True)}"
    if limit.high is None:
        return f"at least {show(limit.low, unit, with_unit=True)}"
    if limit.low == -limit.high:
        return f"±{show(limit.high, unit, with_unit=True)}"
    return f"{show(limit.low, unit, sign=True)} to {show(limit.high, unit, sign=True, with_unit=True)}"
