"""Photos of a job, and where each is filed: both append-only."""

import uuid
from typing import ClassVar

from django.db import models
from django.urls import reverse
from django.utils import timezone

from builds.appendonly import AppendOnly, AppendOnlyQuerySet
from builds.models.jobs import Build
from builds.models.parts import PartFitted
from builds.models.people import Person


class PhotoKind(models.TextChoices):
    """What a photo shows."""

    WITNESS_MARK = "witness-mark", "witness mark"
    PART = "part", "part"
    DAMAGE = "damage", "damage"
    OTHER = "other", "other"


class MediaType(models.TextChoices):
    """The kinds of picture file that are kept."""

    JPEG = "image/jpeg", "JPEG"
    PNG = "image/png", "PNG"
    WEBP = "image/webp", "WebP"
    HEIC = "image/heic", "HEIC"


class PhotoQuerySet(AppendOnlyQuerySet["Photo"]):
    """Photos of a build."""

    def for_list(self) -> "PhotoQuerySet":
        """Newest first, with the person, the job and all filings, in two queries however many there are."""
        filings = PhotoFiling.objects.select_related("filed_by", "part")
        return (
            self.select_related("build__engine__customer", "taken_by")
            .prefetch_related(models.Prefetch("filings", queryset=filings))
            .order_by("-pk")
        )

    def filed(
        self, *, position: str | None = None, kind: str = "", set_aside: bool = False
    ) -> "PhotoQuerySet":
        """Those whose newest filing says so. `position` "" is filed at no address; None asks nothing about it."""
        newest = PhotoFiling.objects.filter(photo=models.OuterRef("pk")).order_by("-pk").values("pk")[:1]
        wanted: dict[str, object] = {"filings__set_aside": set_aside}
        if position is not None:
            wanted["filings__position"] = position
        if kind:
            wanted["filings__kind"] = kind
        return self.annotate(newest_filing=models.Subquery(newest)).filter(
            filings__pk=models.F("newest_filing"), **wanted
        )

    def of(self, build: Build, *, position: str | None = None, kind: str = "") -> "PhotoQuerySet":
        """Photos of a build that are not set aside, newest last."""
        return self.for_list().filter(build=build).filed(position=position, kind=kind).order_by("pk")


class Photo(AppendOnly):
    """One picture file as it is kept: the one that was sent, less where it was taken and whose camera it was.

    `sha256` is the digest of the kept file, `sent_sha256` that of the file that came; `removed` lists what was taken
    out in between. `width` and `height` are those of the picture held upright.
    """

    client_id = models.UUIDField("made on the device as", unique=True, default=uuid.uuid4)
    build = models.ForeignKey(Build, on_delete=models.PROTECT, related_name="photos")
    name = models.CharField("file as it was sent", max_length=120)
    media_type = models.CharField("kind of file", max_length=20, choices=MediaType.choices)
    size = models.PositiveIntegerField("bytes kept")
    sha256 = models.CharField("SHA-256 of the kept file", max_length=64)
    sent_sha256 = models.CharField("SHA-256 of what was sent", max_length=64)
    width = models.PositiveIntegerField("width, upright")
    height = models.PositiveIntegerField("height, upright")
    path = models.CharField("where the file is", max_length=100, unique=True)
    taken_at = models.DateTimeField("taken at, as the device says", default=timezone.now)
    taken_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="photos")
    saved_at = models.DateTimeField("written at, by this book's clock", auto_now_add=True)
    device = models.CharField("device", max_length=60, blank=True)
    removed = models.JSONField("what was taken out of the file", default=list, blank=True)

    objects: ClassVar = PhotoQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["build", "sent_sha256"])]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """The photo's page."""
        return reverse("photo", args=[self.client_id])

    @property
    def filing(self) -> "PhotoFiling":
        """Where the photo is filed now."""
        return list(self.filings.all())[-1]

    @property
    def set_aside(self) -> bool:
        """Whether it was taken by mistake: it is kept, and shown only among those set aside."""
        return self.filing.set_aside


class PhotoFiling(AppendOnly):
    """Where a photo belongs and what it shows, as somebody filed it. The newest one holds; the older ones stay."""

    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, related_name="filings")
    client_id = models.UUIDField("made on the device as", unique=True, default=uuid.uuid4)
    position = models.CharField("address", max_length=40, blank=True)
    part = models.ForeignKey(
        PartFitted, on_delete=models.PROTECT, null=True, blank=True, related_name="photo_filings"
    )
    kind = models.CharField(
        "what it shows", max_length=20, choices=PhotoKind.choices, default=PhotoKind.OTHER
    )
    note = models.CharField("note", max_length=200, blank=True)
    set_aside = models.BooleanField("set aside", default=False)
    reason = models.CharField("why it is set aside", max_length=200, blank=True)
    filed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="photo_filings")
    filed_at = models.DateTimeField("filed at", auto_now_add=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(set_aside=False) | ~models.Q(reason=""), name="photo_set_aside_says_why"
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.position}".strip()

    @property
    def where(self) -> str:
        """Address and part in words."""
        return ", ".join(str(each) for each in (self.position, self.part) if each) or "the job"
