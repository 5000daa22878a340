"""An engine that came back: the job under which it is read as found, and what was found on it."""

from django.db import models
from django.urls import reverse
from django.utils import timezone

from builds.models.jobs import Build
from builds.models.parts import PartFitted
from builds.models.people import Person
from builds.models.photos import Photo
from builds.models.readings import Reading
from builds.models.sheets import SealedSheet
from builds.tracking import History, Tracked


class Return(Tracked):
    """That an engine came back: what the customer says, and the sealed sheet that it left with.

    Its job is of the kind “as found”, and follows the job that the engine went out with. Nothing is frozen by it.
    """

    build = models.OneToOneField(Build, on_delete=models.PROTECT, related_name="came_in", editable=False)
    sheet = models.ForeignKey(
        SealedSheet, on_delete=models.PROTECT, null=True, blank=True, related_name="+", editable=False
    )
    came_back_on = models.DateField("came back", default=timezone.localdate)
    complaint = models.CharField(
        "what happened",
        max_length=200,
        help_text="In the customer’s words: noise on the left bank, then stopped.",
    )
    how_it_ran = models.TextField("how it ran before that", blank=True)
    opened_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", editable=False)
    opened_at = models.DateTimeField(auto_now_add=True)

    history = History()

    class Meta:
        ordering = ["-came_back_on", "-pk"]

    def __str__(self) -> str:
        return f"return {self.build}"


class Symptom(Tracked):
    """Something that is seen on an engine that came back, with what the shop then looks at."""

    name = models.CharField("what is seen", max_length=80, unique=True)
    order = models.PositiveSmallIntegerField("order", default=1)
    in_use = models.BooleanField("asked for", default=True)

    history = History()

    class Meta:
        ordering = ["order", "pk"]

    def __str__(self) -> str:
        return self.name


class CausePrompt(Tracked):
    """One thing to look at when a symptom is seen: from common practice or the shop's own. Never a diagnosis."""

    symptom = models.ForeignKey(Symptom, on_delete=models.PROTECT, related_name="prompts")
    text = models.CharField("look at", max_length=200)
    order = models.PositiveSmallIntegerField("order", default=1)
    in_use = models.BooleanField("asked for", default=True)
    source = models.CharField("where it comes from", max_length=200, default="common practice, no source")

    history = History()

    class Meta:
        ordering = ["symptom", "order", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["symptom", "text"], name="cause_prompt_once_for_a_symptom")
        ]

    def __str__(self) -> str:
        return self.text


class Condition(models.TextChoices):
    """In what state a thing was found."""

    SOUND = "sound", "sound"
    WORN = "worn", "worn"
    LOOSE = "loose", "loose"
    BENT = "bent", "bent"
    CRACKED = "cracked", "cracked"
    BROKEN = "broken", "broken"
    BURNT = "burnt", "burnt or blued"
    SEIZED = "seized", "seized or galled"
    MISSING = "missing", "missing"
    OTHER = "other", "otherwise"


class Confidence(models.TextChoices):
    """How sure the person is of a probable cause."""

    NONE = "", "no cause named"
    POSSIBLE = "possible", "possible"
    LIKELY = "likely", "likely"
    SURE = "sure", "as good as certain"


class Finding(Tracked):
    """What somebody found on an engine: what, where, in which condition; a probable cause, how sure, and what to do."""

    build = models.ForeignKey(Build, on_delete=models.PROTECT, related_name="findings", editable=False)
    what = models.CharField("what was found", max_length=160)
    position = models.CharField(
        "where", max_length=40, blank=True, help_text="An address: 5E, L.stand2, cyl5, engine."
    )
    condition = models.CharField("condition", max_length=10, choices=Condition.choices)
    symptom = models.ForeignKey(
        Symptom, on_delete=models.PROTECT, null=True, blank=True, related_name="findings",
        verbose_name="list to look through",
    )  # fmt: skip
    detail = models.TextField("more of it", blank=True)
    cause = models.CharField("probable cause", max_length=200, blank=True)
    confidence = models.CharField(
        "how sure", max_length=10, choices=Confidence.choices, default=Confidence.NONE, blank=True
    )
    action = models.CharField("what to do", max_length=200, blank=True)
    found_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="findings", editable=False)
    found_at = models.DateTimeField("found at", default=timezone.now, editable=False)
    withdrawn = models.CharField("why it was taken back", max_length=200, blank=True, editable=False)

    history = History()

    class Meta:
        ordering = ["build", "pk"]

    def __str__(self) -> str:
        return f"{self.what} {self.position}".strip()

    def get_absolute_url(self) -> str:
        """The finding's page."""
        return reverse("finding", args=[self.pk])


class FindingPhoto(Tracked):
    """A photo that shows a finding."""

    finding = models.ForeignKey(Finding, on_delete=models.PROTECT, related_name="shown_on")
    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, related_name="findings")

    history = History()

    class Meta:
        ordering = ["finding", "pk"]
        constraints = [models.UniqueConstraint(fields=["finding", "photo"], name="photo_once_on_a_finding")]

    def __str__(self) -> str:
        return str(self.finding)


class Side(models.TextChoices):
    """Whether a piece of evidence speaks for the probable cause or against it."""

    FOR = "for", "speaks for it"
    AGAINST = "against", "speaks against it"


class Evidence(Tracked):
    """Something that speaks for or against a probable cause: in words, perhaps with a reading, a photo or a part."""

    finding = models.ForeignKey(Finding, on_delete=models.PROTECT, related_name="evidence")
    side = models.CharField("side", max_length=8, choices=Side.choices)
    text = models.CharField("what it says", max_length=200)
    reading = models.ForeignKey(
        Reading, on_delete=models.PROTECT, null=True, blank=True, related_name="evidence"
    )
    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, null=True, blank=True, related_name="evidence")
    part = models.ForeignKey(
        PartFitted, on_delete=models.PROTECT, null=True, blank=True, related_name="evidence"
    )
    noted_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, related_name="+", null=True, editable=False
    )

    history = History()

    class Meta:
        ordering = ["finding", "pk"]
        verbose_name_plural = "evidence"

    def __str__(self) -> str:
        return self.text


class Looked(models.TextChoices):
    """What came of looking at a prompt."""

    SEEN = "seen", "it is so"
    NOT_SO = "not-so", "it is not so"


class PromptLook(Tracked):
    """That somebody looked at one prompt of a finding, and what came of it. `text` is the prompt as it was then."""

    finding = models.ForeignKey(Finding, on_delete=models.PROTECT, related_name="looks")
    text = models.CharField("looked at", max_length=200)
    answer = models.CharField("answer", max_length=8, choices=Looked.choices)
    note = models.CharField("note", max_length=200, blank=True)
    looked_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, related_name="+", null=True, editable=False
    )

    history = History()

    class Meta:
        ordering = ["finding", "pk"]
        constraints = [models.UniqueConstraint(fields=["finding", "text"], name="prompt_once_on_a_finding")]

    def __str__(self) -> str:
        return self.text
