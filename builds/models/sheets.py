"""Signed and sealed sheets, and the keys that they are signed with: all append-only.

A `Signing` is one sheet as somebody put it before two people to sign. The one who measured signs first; with the second
signature, the checker's, the `SealedSheet` is made. What never came to a second signature stays, and seals nothing.
"""

import uuid
from typing import Any, ClassVar

from django.db import models

from builds.appendonly import AppendOnly, AppendOnlyQuerySet
from builds.models.jobs import Build
from builds.models.people import LengthUnit, Person
from builds.models.readings import Reading
from builds.models.shop import PaperSize


class Role(models.TextChoices):
    """What a person's name under a sheet says."""

    MEASURED = "measured", "measured by"
    CHECKED = "checked", "checked by"


class SigningQuerySet(AppendOnlyQuerySet["Signing"]):
    """Sheets that were put up for signing."""

    def of_sheet(self, build: Build, kind: str, subject: str) -> "SigningQuerySet":
        """Those of one sheet, newest first, without what they show."""
        found = self.filter(build=build, kind=kind, subject=subject)
        return found.defer("snapshot").order_by("-pk")


class Signing(AppendOnly):
    """One sheet as it is put before two people: all that is printed on it, as canonical JSON.

    `readings` and `readings_head` say how many readings the job had then, and the head of their chain.
    """

    client_id = models.UUIDField("made on the device as", unique=True, default=uuid.uuid4)
    build = models.ForeignKey(Build, on_delete=models.PROTECT, related_name="signings")
    kind = models.CharField("kind of sheet", max_length=40)
    subject = models.CharField("what of the job it is about", max_length=40, blank=True)
    schema = models.PositiveIntegerField("edition of its form")
    snapshot = models.BinaryField("what is printed, as canonical JSON")
    digest = models.CharField("SHA-256 of what is printed", max_length=64)
    readings = models.PositiveIntegerField("readings of the job then")
    readings_head = models.CharField("head of their chain", max_length=64)
    unit = models.CharField("lengths in", max_length=2, choices=LengthUnit.choices)
    paper = models.CharField("paper", max_length=6, choices=PaperSize.choices)
    begun_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    begun_at = models.DateTimeField("put up for signing at")
    revises = models.ForeignKey(
        "SealedSheet", on_delete=models.PROTECT, null=True, blank=True, related_name="revised_by"
    )
    reason = models.CharField("why it is revised", max_length=200, blank=True)

    objects: ClassVar = SigningQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["build", "kind", "subject"])]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(revises__isnull=True) | ~models.Q(reason=""), name="revision_says_why"
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.subject}".strip()


class Signature(AppendOnly):
    """A person's name under a sheet: drawn and typed, with what it means and what was seen."""

    client_id = models.UUIDField("made on the device as", unique=True, default=uuid.uuid4)
    signing = models.ForeignKey(Signing, on_delete=models.PROTECT, related_name="signatures")
    role = models.CharField("role", max_length=10, choices=Role.choices)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="signatures")
    typed_name = models.CharField("name as typed", max_length=120)
    meaning = models.CharField("what it means", max_length=200)
    strokes = models.TextField("as drawn, as JSON")
    seen_digest = models.CharField("SHA-256 of what was seen", max_length=64)
    signed_at = models.DateTimeField("signed at")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["signing", "role"], name="one_signature_of_a_role"),
            models.UniqueConstraint(fields=["signing", "person"], name="nobody_signs_a_sheet_twice"),
        ]

    def __str__(self) -> str:
        return f"{self.get_role_display()} {self.typed_name}"


class Acceptance(AppendOnly):
    """Something out of its limit, or a tool past its check, that somebody accepts by name, with a reason.

    It holds for this value only: when `value_text` is another, there is nothing accepted.
    """

    client_id = models.UUIDField("made on the device as", unique=True, default=uuid.uuid4)
    build = models.ForeignKey(Build, on_delete=models.PROTECT, related_name="acceptances")
    key = models.CharField("what", max_length=120)
    value_text = models.CharField("its value then", max_length=80)
    words = models.CharField("in words", max_length=200)
    reason = models.CharField("why it is accepted", max_length=200)
    accepted_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="acceptances")
    accepted_at = models.DateTimeField("accepted at")

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["build", "key"])]
        constraints = [
            models.CheckConstraint(condition=~models.Q(reason=""), name="acceptance_says_why"),
        ]

    def __str__(self) -> str:
        return f"{self.words}: accepted"


class SealedSheetQuerySet(AppendOnlyQuerySet["SealedSheet"]):
    """Sealed sheets."""

    def for_list(self) -> "SealedSheetQuerySet":
        """Newest first, with job, people and what revised each, in three queries; never the sheets themselves."""
        signatures = Signature.objects.select_related("person").defer("strokes").order_by("pk")
        revisions = Signing.objects.filter(sheet__isnull=False).defer("snapshot").select_related("sheet")
        return (
            self.select_related("signing__build__engine__customer")
            .defer("entry", "pdf", "signing__snapshot")
            .prefetch_related(
                models.Prefetch("signing__signatures", queryset=signatures),
                models.Prefetch(
                    "revised_by", queryset=revisions.defer("snapshot", "sheet__entry", "sheet__pdf")
                ),
            )
            .order_by("-number")
        )

    def of_sheet(self, build: Build, kind: str, subject: str) -> "SealedSheetQuerySet":
        """All revisions of one sheet, newest first."""
        return self.for_list().filter(signing__build=build, signing__kind=kind, signing__subject=subject)


class SealedSheet(AppendOnly):
    """A sheet that two people signed: its place in the chain of all sealed sheets, and its PDF as it was issued."""

    signing = models.OneToOneField(Signing, on_delete=models.PROTECT, related_name="sheet")
    number = models.PositiveIntegerField("number of the sheet", unique=True)
    revision = models.PositiveIntegerField("revision", default=0)
    previous_digest = models.CharField("digest of the sheet before", max_length=64, blank=True)
    entry = models.BinaryField("its entry in the chain, as canonical JSON")
    digest = models.CharField("SHA-256 of its entry", max_length=64, unique=True)
    pdf = models.BinaryField("the PDF as issued")
    pdf_sha256 = models.CharField("SHA-256 of the PDF", max_length=64, unique=True)
    sealed_at = models.DateTimeField("sealed at")
    title: str  # on a sheet that went through `builds.sealing.board.titled`

    objects: ClassVar = SealedSheetQuerySet.as_manager()

    class Meta:
        ordering = ["number"]

    def __str__(self) -> str:
        return f"sheet {self.number}"

    @property
    def superseded_by(self) -> "SealedSheet | None":
        """The revision that took its place, if there is one. Uses what `for_list` fetched."""
        return next((signing.sheet for signing in self.revised_by.all() if hasattr(signing, "sheet")), None)


class Authority(AppendOnly):
    """The shop's own certificate authority: its root certificate, and its key wrapped with the passphrase.

    The newest signs. An older one stays, so that what it signed is still verified; `reason` says why it was replaced by
    this one.
    """

    certificate = models.TextField("root certificate, PEM")
    wrapped_key = models.TextField("its key, wrapped, PEM")
    made_at = models.DateTimeField("made at")
    reason = models.CharField("why the keys were made anew", max_length=200, blank=True)

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "authorities"

    def __str__(self) -> str:
        return f"root of {self.made_at:%d %b %Y}"


class SignerCertificate(AppendOnly):
    """A person's certificate from the shop's authority, and its key wrapped with the passphrase. The newest holds."""

    authority = models.ForeignKey(Authority, on_delete=models.PROTECT, related_name="certificates")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="certificates")
    certificate = models.TextField("certificate, PEM")
    wrapped_key = models.TextField("its key, wrapped, PEM")
    made_at = models.DateTimeField("made at")

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"certificate of {self.person}"


def seals_of_build() -> dict[str, Any]:
    """What a list of jobs asks of their sheets, as annotations.

    When one was last sealed, whether a reading came since, and whether one that was signed once waits for its check.
    """
    outer = models.OuterRef("pk")
    newest = SealedSheet.objects.filter(signing__build=outer).order_by("-number")
    read = Reading.objects.filter(build=outer, saved_at__gt=models.OuterRef("last_sealed_at"))
    newer = Signing.objects.filter(
        build=models.OuterRef("build"),
        kind=models.OuterRef("kind"),
        subject=models.OuterRef("subject"),
        pk__gt=models.OuterRef("pk"),
    )
    signed = Signing.objects.filter(build=outer, sheet__isnull=True, signatures__isnull=False)
    return {
        "last_sealed_at": models.Subquery(newest.values("sealed_at")[:1]),
        "read_since": models.Exists(read),
        "waits_for_check": models.Exists(signed.filter(~models.Exists(newer))),
    }
