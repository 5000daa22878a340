"""Customers and their engines."""

from builds.forms.base import BookForm, OnceForm
from builds.models import Customer, Engine

CUSTOMER_FIELDS = ["name", "phone", "email", "address", "note"]
ENGINE_FIELDS = ["name", "serial", "cylinders", "firing_order", "bore", "stroke", "note"]


class NewCustomerForm(OnceForm):
    """A customer that is new to the book."""

    class Meta:
        model = Customer
        fields = CUSTOMER_FIELDS


class CustomerForm(BookForm):
    """What is known of a customer."""

    class Meta:
        model = Customer
        fields = CUSTOMER_FIELDS


class NewEngineForm(OnceForm):
    """An engine that is new to the book."""

    class Meta:
        model = Engine
        fields = ENGINE_FIELDS


class EngineForm(BookForm):
    """What is known of an engine."""

    class Meta:
        model = Engine
        fields = ENGINE_FIELDS
