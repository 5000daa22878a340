"""A job: one build of an engine, or a look at it again, with where it stands."""

import re
from collections.abc import Callable, Iterable
from datetime import date
from typing import ClassVar

from django.core.exceptions import ValidationError
from django.db import models
from django.urls import reverse
from django.utils import timezone

from builds.models.engines import Engine
from builds.models.people import Person
from builds.tracking import History, Tracked, TrackedQuerySet

FIRST_YEAR = 1950


class BuildState(models.TextChoices):
    """Where a job stands. Worked out from the records, never set by hand."""

    OPEN = "open", "open"
    ON_THE_BENCH = "on-the-bench", "on the bench"
    READY_TO_SIGN = "ready-to-sign", "ready to sign"
    SEALED = "sealed", "sealed"
    OUT = "out", "out"
    BACK = "back", "back"


class BuildKind(models.TextChoices):
    """What a job is for: to build, or to look again at an engine as an earlier job left it."""

    BUILD = "build", "build"
    CHECK = "check", "check between rebuilds"
    RETURN = "return", "as found"


class BuildQuerySet(TrackedQuerySet["Build"]):
    """Lists of jobs."""

    def jobs(self) -> "BuildQuerySet":
        """Jobs that people open and find again by their number; checks stand with the job they look at."""
        return self.exclude(kind=BuildKind.CHECK)

    def later_on_engine(self) -> models.Exists:
        """For a filter of jobs: whether one of these is on the same engine and later, whenever it was written down."""
        same_day = models.Q(opened_on=models.OuterRef("opened_on"), pk__gt=models.OuterRef("pk"))
        later = models.Q(opened_on__gt=models.OuterRef("opened_on")) | same_day
        return models.Exists(self.filter(later, engine=models.OuterRef("engine")))

    def for_list(self) -> "BuildQuerySet":
        """Everything a row of the jobs list shows, in one query."""
        from builds.models.readings import Reading  # readings point at builds
        from builds.models.sheets import seals_of_build  # so do sheets

        return self.select_related("engine__customer").annotate(
            has_readings=models.Exists(Reading.objects.filter(build=models.OuterRef("pk"))),
            **seals_of_build(),
        )

    def matching(self, text: str) -> "BuildQuerySet":
        """Jobs whose number, title, customer, engine, serial number, or any part's lot, serial or number has `text`."""
        from builds.models.parts import PartFitted  # parts point at builds

        parts = PartFitted.objects.filter(build=models.OuterRef("pk")).filter(
            models.Q(lot__icontains=text)
            | models.Q(serial__icontains=text)
            | models.Q(maker_number__icontains=text)
        )
        return self.filter(
            models.Q(job_number__icontains=text)
            | models.Q(title__icontains=text)
            | models.Q(engine__customer__name__icontains=text)
            | models.Q(engine__name__icontains=text)
            | models.Q(engine__serial__icontains=text)
            | models.Exists(parts)
        )


# Other floors say which jobs lack nothing: each takes job ids and returns those that it finds ready.
readiness_checks: list[Callable[[Iterable[int]], set[int]]] = []
# And which of those that have a sealed sheet have all that they need: each takes job ids and returns those.
sealed_checks: list[Callable[[Iterable[int]], set[int]]] = []


# Which date may not stand before which, and how to say so.
DATE_ORDER = [
    ("promised_on", "opened_on", "Promised for delivery", "was opened"),
    ("went_out_on", "opened_on", "Going out", "was opened"),
    ("came_back_on", "went_out_on", "Coming back", "went out"),
]


class Build(Tracked):
    """One build of an engine: a job, with everything measured on it.

    A check or a return `follows` the job that the engine went out with: it has the same heads, stands and valves, so that
    what is read meets what was read then at the same address. `after_run` is the last entry of the running record before
    it; none: the engine had not run.
    """

    job_number = models.CharField("job number", max_length=30, unique=True)
    engine = models.ForeignKey(Engine, on_delete=models.PROTECT, related_name="builds", verbose_name="engine")
    title = models.CharField("what is to be done", max_length=160, blank=True)
    opened_on = models.DateField("opened", default=timezone.localdate)
    promised_on = models.DateField("promised for", null=True, blank=True)
    went_out_on = models.DateField("went out", null=True, blank=True)
    came_back_on = models.DateField("came back", null=True, blank=True)
    note = models.TextField("note", blank=True)
    opened_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, related_name="+", null=True, editable=False
    )
    kind = models.CharField(
        "kind of job", max_length=10, choices=BuildKind.choices, default=BuildKind.BUILD, editable=False
    )
    follows = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="looks", editable=False
    )
    after_run = models.ForeignKey(
        "builds.RunEntry", on_delete=models.PROTECT, null=True, blank=True, related_name="+", editable=False
    )
    state: BuildState  # on a job that went through `with_states`

    objects: ClassVar = BuildQuerySet.as_manager()
    history = History()

    class Meta:
        ordering = ["-opened_on", "-pk"]
        indexes = [models.Index(fields=["-opened_on", "-id"])]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(came_back_on__isnull=True) | models.Q(went_out_on__isnull=False),
                name="build_back_only_after_out",
            ),
            models.CheckConstraint(
                condition=models.Q(kind="build", follows__isnull=True)
                | (~models.Q(kind="build") & models.Q(follows__isnull=False)),
                name="build_that_looks_again_follows_one",
            ),
        ]

    def __str__(self) -> str:
        return self.job_number

    def get_absolute_url(self) -> str:
        """The job's page."""
        return reverse("job-detail", args=[self.pk])

    @classmethod
    def next_number(cls, today: date | None = None) -> str:
        """The job number that comes next this year: 2026-014."""
        year = (today or timezone.localdate()).year
        used = (
            cls.objects.filter(job_number__startswith=f"{year}-")
            .order_by()
            .values_list("job_number", flat=True)
        )
        counted = [int(found[1]) for number in used if (found := re.fullmatch(r"\d{4}-([0-9]{1,6})", number))]
        return f"{year}-{max(counted, default=0) + 1:03d}"

    def clean(self) -> None:
        """Refuse dates that cannot follow one another, each with a sentence."""
        wrong: dict[str, str] = {}
        today = timezone.localdate()
        for name in ("opened_on", "promised_on", "went_out_on", "came_back_on"):
            day = getattr(self, name)
            if day is not None and day.year < FIRST_YEAR:
                wrong[name] = (
                    f"The year {day.year} is too long ago. Type the year with four figures: {today.year}."
                )
        for name, what in (("went_out_on", "gone out"), ("came_back_on", "come back")):
            day = getattr(self, name)
            if day is not None and day > today:
                wrong[name] = (
                    f"{day:%d %b %Y} is still to come, so the engine cannot have {what} then. Use today or before."
                )
        if self.came_back_on is not None and self.went_out_on is None:
            wrong["came_back_on"] = (
                "The engine can only come back after it went out. Fill in the day it went out."
            )
        for later, earlier, what, before in DATE_ORDER:
            last, first = getattr(self, later), getattr(self, earlier)
            if later not in wrong and last is not None and first is not None and last < first:
                wrong[later] = (
                    f"{what} on {last:%d %b %Y} is before it {before}, {first:%d %b %Y}. Use that day or a later one."
                )
        if wrong:
            raise ValidationError(wrong)

    @property
    def is_return(self) -> bool:
        """Whether this job reads an engine as it was found when it came back."""
        return self.kind == BuildKind.RETURN

    @property
    def is_check(self) -> bool:
        """Whether this job is a check between rebuilds."""
        return self.kind == BuildKind.CHECK

    @property
    def takes_readings(self) -> bool:
        """Whether the log of this build is still open: it closes when the engine goes out."""
        return self.went_out_on is None

    @property
    def state_words(self) -> str:
        """Where it stands, in words: a check that takes nothing more is done. On a job from `with_states`."""
        return "done" if self.is_check and self.state is BuildState.OUT else self.state.label

    @property
    def keeps_running(self) -> bool:
        """Whether a running record belongs to this job: its engine went out with it."""
        return self.kind == BuildKind.BUILD and self.went_out_on is not None

    @property
    def holds_its_seal(self) -> bool:
        """Whether a sheet is sealed, no reading came since, and none waits for its check. On a job from `for_list`."""
        moved = self.read_since or self.waits_for_check  # type: ignore[attr-defined]
        return self.last_sealed_at is not None and not moved  # type: ignore[attr-defined]

    @property
    def closed_sentence(self) -> str:
        """Why this log takes nothing more, and what to do."""
        if self.is_check:
            return (
                f"{self.job_number} is done since {self.went_out_on:%d %b %Y}: its log takes nothing more. Open another "
                "check to read on; an owner can open this one again."
            )
        return (
            f"Job {self.job_number} went out on {self.went_out_on:%d %b %Y}: its log is closed. Open a new job on this "
            "engine to go on."
        )

    def state_from(self, *, has_readings: bool, ready: bool, sealed: bool = False) -> BuildState:
        """Where the job stands, given whether anything is measured, nothing is lacking, and all of it is sealed."""
        if self.came_back_on is not None:
            return BuildState.BACK
        if self.went_out_on is not None:
            return BuildState.OUT
        if sealed and not self.is_check:
            return BuildState.SEALED
        if has_readings and ready and not self.is_check:
            return BuildState.READY_TO_SIGN
        return BuildState.ON_THE_BENCH if has_readings else BuildState.OPEN


def with_states(builds: Iterable[Build]) -> list[Build]:
    """Give each job of a page its `state`, in a constant number of queries. The jobs come from `for_list`."""
    page = list(builds)
    measured = {build.pk for build in page if build.has_readings}  # type: ignore[attr-defined]
    open_ids = [build.pk for build in page if build.takes_readings and build.pk in measured]
    ready: set[int] = set(open_ids) if open_ids and readiness_checks else set()
    for check in readiness_checks:
        ready &= check(open_ids)
    sealed = {build.pk for build in page if build.takes_readings and build.holds_its_seal}
    for check in sealed_checks:
        sealed &= check(sealed) if sealed else set()
    for build in page:
        build.state = build.state_from(
            has_readings=build.pk in measured, ready=build.pk in ready, sealed=build.pk in sealed
        )
    return page
