"""Forms that were sent: so that a second press of the button does not make a second record."""

from django.db import models


class FormSent(models.Model):
    """One form that made a record. The form carries its own token; the same token makes nothing twice."""

    token = models.UUIDField(primary_key=True)
    made = models.CharField("kind of record it made", max_length=60)
    made_pk = models.BigIntegerField("number of that record")
    sent_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        verbose_name_plural = "forms sent"

    def __str__(self) -> str:
        return f"{self.made} {self.made_pk}"
