"""Who brings the engines."""

from typing import Any, ClassVar

from django.db import models
from django.db.models.functions import Coalesce
from django.urls import reverse

from builds.tracking import History, Tracked, TrackedQuerySet


def row_count(rows: models.QuerySet[Any], by: str) -> Coalesce:
    """Count the rows that belong to each record of a list, without joining them to the list."""
    return Coalesce(models.Subquery(rows.order_by().values(by).annotate(n=models.Count("pk")).values("n")), 0)


class CustomerQuerySet(TrackedQuerySet["Customer"]):
    """Lists of customers."""

    def for_list(self) -> "CustomerQuerySet":
        """Everything a row of the customers list shows, in one query."""
        from builds.models.engines import Engine  # engines point at customers
        from builds.models.jobs import Build

        engines = Engine.objects.filter(customer=models.OuterRef("pk"))
        jobs = Build.objects.jobs().filter(engine__customer=models.OuterRef("pk"))
        return self.annotate(
            engine_count=row_count(engines, "customer"), job_count=row_count(jobs, "engine__customer")
        )

    def matching(self, text: str) -> "CustomerQuerySet":
        """Customers whose name, telephone or e-mail has `text`."""
        return self.filter(
            models.Q(name__icontains=text) | models.Q(phone__icontains=text) | models.Q(email__icontains=text)
        )


class Customer(Tracked):
    """A customer of the shop."""

    name = models.CharField("name", max_length=120)
    phone = models.CharField("telephone", max_length=40, blank=True)
    email = models.EmailField("e-mail", blank=True)
    address = models.TextField("address", blank=True)
    note = models.TextField("note", blank=True)
    created_at = models.DateTimeField(auto_now_add=True)

    objects: ClassVar = CustomerQuerySet.as_manager()
    history = History()

    class Meta:
        ordering = ["name", "pk"]
        indexes = [models.Index(fields=["name"])]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """The customer's page."""
        return reverse("customer-detail", args=[self.pk])
