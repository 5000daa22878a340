"""Who brings the engines."""

from django.db import models
from django.urls import reverse


class Customer(models.Model):
    """A customer of the shop."""

    name = models.CharField("name", max_length=120)
    phone = models.CharField("telephone", max_length=40, blank=True)
    email = models.EmailField("e-mail", blank=True)
    address = models.TextField("address", blank=True)
    note = models.TextField("note", blank=True)
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["name", "pk"]
        indexes = [models.Index(fields=["name"])]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """The customer's page."""
        return reverse("customer-detail", args=[self.pk])
