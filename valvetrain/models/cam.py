"""The cam card."""

from decimal import Decimal

from django.core.validators import MinValueValidator
from django.db import models

from builds.fields import BaseUnitField
from builds.models import Build
from builds.tracking import History, Tracked
from valvetrain.geometry.cam import CamEvents, card_disagreements
from valvetrain.geometry.errors import GeometryError
from valvetrain.models.heads import ValveKind

NOT_NEGATIVE = MinValueValidator(0)
CENTRELINE = ("80", "150")  # usual [°]
# What a card prints beside its events, and what follows from them.
PRINTED = [
    "intake_duration",
    "exhaust_duration",
    "intake_centreline",
    "exhaust_centreline",
    "lobe_separation",
]


def _lift(label: str) -> BaseUnitField:
    return BaseUnitField(
        label,
        measured="At the lobe, from the card.",
        drawing="lobe",
        validators=[MinValueValidator(Decimal("0.001"))],
        plausible=("0.1", "0.8"),
    )


def _lash(label: str) -> BaseUnitField:
    return BaseUnitField(
        label,
        default=0,
        measured="Between roller and tip, hot or cold as the card says.",
        drawing="lash",
        validators=[NOT_NEGATIVE],
        plausible=("0", "0.05"),
    )


def _angle(
    label: str, drawing: str, measured: str, plausible: tuple[str, str], *, signed: bool = False
) -> BaseUnitField:
    return BaseUnitField(
        label,
        unit_kind="angle",
        null=True,
        blank=True,
        signed=signed,
        drawing=drawing,
        measured=measured,
        plausible=plausible,
    )


def _duration(label: str) -> BaseUnitField:
    return _angle(label, "duration", "Crank degrees, at the checking lift.", ("100", "420"))


def _event(label: str, drawing: str) -> BaseUnitField:
    return _angle(
        label,
        drawing,
        "Crank degrees at the checking lift; minus on the other side.",
        ("-90", "150"),
        signed=True,
    )


class LashTaken(models.TextChoices):
    """At which heat a card means its lash. What it does not say is taken for cold."""

    UNSAID = "", "the card does not say"
    COLD = "cold", "cold"
    HOT = "hot", "hot"


class CamCard(Tracked):
    """What the camshaft's own card says: lobe lift, duration, events, centrelines, lash."""

    build = models.OneToOneField(Build, on_delete=models.PROTECT, related_name="cam_card")
    name = models.CharField("cam", max_length=80, blank=True)
    intake_lobe_lift = _lift("intake lobe lift")
    exhaust_lobe_lift = _lift("exhaust lobe lift")
    intake_lash = _lash("intake lash")
    exhaust_lash = _lash("exhaust lash")
    lash_taken = models.CharField(
        "lash is for the engine", max_length=4, choices=LashTaken.choices, default=LashTaken.UNSAID, blank=True,
        help_text="Lash is judged by the card at this heat; without a word, cold.",
    )  # fmt: skip
    timed_at = BaseUnitField(
        "events timed at lobe lift",
        null=True,
        blank=True,
        default=Decimal("0.05"),
        measured="The checking lift that the card names.",
        drawing="timed-at",
        validators=[NOT_NEGATIVE],
        plausible=("0", "0.3"),
    )
    intake_duration = _duration("intake duration")
    exhaust_duration = _duration("exhaust duration")
    intake_opens = _event("intake opens, before top centre", "event-before-top")
    intake_closes = _event("intake closes, after bottom centre", "event-after-bottom")
    exhaust_opens = _event("exhaust opens, before bottom centre", "event-before-bottom")
    exhaust_closes = _event("exhaust closes, after top centre", "event-after-top")
    intake_centreline = _angle(
        "intake centreline, after top centre", "centreline", "Crank degrees.", CENTRELINE
    )
    exhaust_centreline = _angle(
        "exhaust centreline, before top centre", "centreline-before", "Crank degrees.", CENTRELINE
    )
    lobe_separation = _angle("lobe separation", "separation", "Camshaft degrees.", CENTRELINE)

    history = History()

    def __str__(self) -> str:
        return self.name or "cam card"

    def lobe_lift(self, kind: str) -> Decimal:
        """Lobe lift [in] for a kind of valve."""
        lift: Decimal = self.intake_lobe_lift if kind == ValveKind.INTAKE else self.exhaust_lobe_lift
        return lift

    def lash(self, kind: str) -> Decimal:
        """Lash [in] for a kind of valve."""
        lash: Decimal = self.intake_lash if kind == ValveKind.INTAKE else self.exhaust_lash
        return lash

    @property
    def lash_is_hot(self) -> bool:
        """Whether the card means its lash for a warm engine."""
        return self.lash_taken == LashTaken.HOT

    def disagreements(self) -> list[str]:
        """Where the card's printed numbers do not follow from its own four events; none without all four."""
        events = (self.intake_opens, self.intake_closes, self.exhaust_opens, self.exhaust_closes)
        if any(event is None for event in events):
            return []
        try:
            return card_disagreements(
                CamEvents(*(float(event) for event in events)),
                **{name: float(value) for name in PRINTED if (value := getattr(self, name)) is not None},
            )
        except GeometryError as error:
            return [str(error)]
