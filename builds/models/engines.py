"""Engines, and each build of an engine: the job file."""

from collections.abc import Callable, Iterable

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.urls import reverse
from django.utils import timezone

from builds.fields import BaseUnitField
from builds.models.customers import Customer
from builds.models.people import Person


class Engine(models.Model):
    """One engine, known by its serial number, through all its builds."""

    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="engines", verbose_name="customer")
    name = models.CharField("engine", max_length=120, help_text="What the shop calls it: V8 drag engine, two heads.")
    serial = models.CharField("serial number", max_length=60, blank=True)
    cylinders = models.PositiveSmallIntegerField(
        "cylinders", default=8, validators=[MinValueValidator(1), MaxValueValidator(24)]
    )
    firing_order = models.CharField("firing order", max_length=80, blank=True, help_text="1-8-4-3-6-5-7-2")
    bore = BaseUnitField("bore", null=True, blank=True, measured="Across the cylinder, with a bore gauge.")
    stroke = BaseUnitField("stroke", null=True, blank=True, measured="From the crank's own sheet, or by depth gauge.")
    note = models.TextField("note", blank=True)

    class Meta:
        ordering = ["name", "pk"]
        indexes = [models.Index(fields=["serial"])]

    def __str__(self) -> str:
        return f"{self.name} ({self.serial})" if self.serial else self.name

    def get_absolute_url(self) -> str:
        """The engine's page."""
        return reverse("engine-detail", args=[self.pk])


class BuildState(models.TextChoices):
    """Where a job stands. Worked out from the records, never set by hand."""

    OPEN = "open", "open"
    ON_THE_BENCH = "on-the-bench", "on the bench"
    READY_TO_SIGN = "ready-to-sign", "ready to sign"
    OUT = "out", "out"
    BACK = "back", "back"


class BuildQuerySet(models.QuerySet["Build"]):
    """Lists of jobs."""

    def for_list(self) -> "BuildQuerySet":
        """Everything a row of the jobs list shows, in one query."""
        from builds.models.readings import Reading  # readings point at builds

        return self.select_related("engine__customer").annotate(
            has_readings=models.Exists(Reading.objects.filter(build=models.OuterRef("pk")))
        )

    def matching(self, text: str) -> "BuildQuerySet":
        """Jobs whose number, title, customer, engine, serial number, or any part's lot, serial or number has `text`."""
        from builds.models.parts import PartFitted  # parts point at builds

        parts = PartFitted.objects.filter(build=models.OuterRef("pk")).filter(
            models.Q(lot__icontains=text) | models.Q(serial__icontains=text) | models.Q(maker_number__icontains=text)
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


class Build(models.Model):
    """One build of an engine: a job, with everything measured on it."""

    job_number = models.CharField("job number", max_length=30, unique=True)
    engine = models.ForeignKey(Engine, on_delete=models.PROTECT, related_name="builds", verbose_name="engine")
    title = models.CharField("what is to be done", max_length=160, blank=True)
    opened_on = models.DateField("opened", default=timezone.localdate)
    promised_on = models.DateField("promised for", null=True, blank=True)
    went_out_on = models.DateField("went out", null=True, blank=True)
    came_back_on = models.DateField("came back", null=True, blank=True)
    note = models.TextField("note", blank=True)
    opened_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, editable=False)

    objects = BuildQuerySet.as_manager()

    class Meta:
        ordering = ["-opened_on", "-pk"]
        indexes = [models.Index(fields=["-opened_on", "-id"])]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(came_back_on__isnull=True) | models.Q(went_out_on__isnull=False),
                name="build_back_only_after_out",
            )
        ]

    def __str__(self) -> str:
        return self.job_number

    def get_absolute_url(self) -> str:
        """The job's page."""
        return reverse("job-detail", args=[self.pk])

    @property
    def takes_readings(self) -> bool:
        """Whether the log of this build is still open: it closes when the engine goes out."""
        return self.went_out_on is None

    def state_from(self, *, has_readings: bool, ready: bool) -> BuildState:
        """Where the job stands, given whether anything is measured and whether nothing is lacking."""
        if self.came_back_on is not None:
            return BuildState.BACK
        if self.went_out_on is not None:
            return BuildState.OUT
        if has_readings and ready:
            return BuildState.READY_TO_SIGN
        return BuildState.ON_THE_BENCH if has_readings else BuildState.OPEN


def with_states(builds: Iterable[Build]) -> list[Build]:
    """Give each job of a page its `state`, in a constant number of queries. The jobs come from `for_list`."""
    page = list(builds)
    open_ids = [build.pk for build in page if build.takes_readings and build.has_readings]  # type: ignore[attr-defined]
    ready: set[int] = set(open_ids) if open_ids and readiness_checks else set()
    for check in readiness_checks:
        ready &= check(open_ids)
    for build in page:
        build.state = build.state_from(has_readings=build.has_readings, ready=build.pk in ready)  # type: ignore[attr-defined]
    return page
