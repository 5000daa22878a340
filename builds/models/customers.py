"""Who brings the engines."""

from django.db import models
from django.urls import reverse


class CustomerQuerySet(models.QuerySet["Customer"]):
    """Lists of customers."""

    def for_list(self) -> "CustomerQuerySet":
        """Everything a row of the customers list shows, in one query."""
        return self.annotate(
            engine_count=models.Count("engines", distinct=True),
            job_count=models.Count("engines__builds", distinct=True),
        )

    def matching(self, text: str) -> "CustomerQuerySet":
        """Customers whose name, telephone or e-mail has `text`."""
        return self.filter(
            models.Q(name__icontains=text) | models.Q(phone__icontains=text) | models.Q(email__icontains=text)
        )


class Customer(models.Model):
    """A customer of the shop."""

    name = models.CharField("name", max_length=120)
    phone = models.CharField("telephone", max_length=40, blank=True)
    email = models.EmailField("e-mail", blank=True)
    address = models.TextField("address", blank=True)
    note = models.TextField("note", blank=True)
    created_at = models.DateTimeField(auto_now_add=True)

    objects = CustomerQuerySet.as_manager()

    class Meta:
        ordering = ["name", "pk"]
        indexes = [models.Index(fields=["name"])]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """The customer's page."""
        return reverse("customer-detail", args=[self.pk])
