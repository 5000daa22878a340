"""A customer, an engine and a job, and a guard on how often a page asks the database."""

from collections.abc import Callable
from datetime import date

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from builds.models import Build, Customer, Engine, Person


@pytest.fixture
def customer(db: None) -> Customer:
    """Somebody who brings engines."""
    return Customer.objects.create(name="Harbour Racing", phone="555 0101")


@pytest.fixture
def engine(customer: Customer) -> Engine:
    """Their engine."""
    return Engine.objects.create(customer=customer, name="V8 drag engine", serial="HR-0417", cylinders=8)


@pytest.fixture
def job(engine: Engine) -> Build:
    """A job on it, with its log open."""
    return Build.objects.create(
        engine=engine, job_number="2026-001", title="set up valvetrain", opened_on=date(2026, 1, 5)
    )


@pytest.fixture
def closed_job(engine: Engine) -> Build:
    """A job whose engine went out."""
    return Build.objects.create(
        engine=engine, job_number="2026-002", opened_on=date(2026, 1, 5), went_out_on=date(2026, 2, 1)
    )


@pytest.fixture
def queries() -> Callable[[Client, str], int]:
    """Count the questions that one page asks the database."""

    def count(client: Client, url: str) -> int:
        client.get(url)  # what is made once, such as the shop, is made here
        with CaptureQueriesContext(connection) as captured:
            assert client.get(url).status_code == 200
        return len(captured)

    return count


@pytest.fixture
def left_client(second: Person) -> Client:
    """The browser of Tobias, who was deactivated while he was logged in."""
    client = Client()
    client.force_login(second)
    Person.objects.filter(pk=second.pk).update(is_active=False)
    return client
