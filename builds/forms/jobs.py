"""A job."""

from datetime import date
from typing import Any

from django.core.exceptions import ValidationError

from builds.days_out import refused_days
from builds.forms.base import BookForm, OnceForm
from builds.models import Build, Person


class _JobNumber:
    """A form with a job number, which no two jobs share."""

    instance: Build
    cleaned_data: dict[str, Any]

    def clean_job_number(self) -> str:
        """Refuse a number that another job has, whatever its capitals; say which one is free."""
        number: str = self.cleaned_data["job_number"]
        if Build.objects.filter(job_number__iexact=number).exclude(pk=self.instance.pk).exists():
            raise ValidationError(
                f"Job {number} is in the book already. The next free number is {Build.next_number()}."
            )
        return number


class NewJobForm(_JobNumber, OnceForm):
    """A new job on an engine."""

    class Meta:
        model = Build
        fields = ["job_number", "title", "opened_on", "promised_on", "note"]
        help_texts = {"title": "As the customer would say it: set up valvetrain for the new cam."}


class JobForm(_JobNumber, BookForm):
    """The job's own facts, and the days on which the engine left and came back."""

    class Meta:
        model = Build
        fields = ["job_number", "title", "opened_on", "promised_on", "went_out_on", "came_back_on", "note"]
        help_texts = {
            "went_out_on": "From that day on the log takes no more readings.",
            "came_back_on": "When this very build came back to the shop.",
        }

    def __init__(self, *args: Any, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.person, self.was_out_on = person, self.instance.went_out_on
        if self.instance.follows_id is not None:
            # A check or a return has its day from where it was opened, and goes nowhere.
            for name in ("opened_on", "promised_on", "went_out_on", "came_back_on"):
                del self.fields[name]

    def clean(self) -> dict[str, Any]:
        """Refuse days that leave out what the running record, a check or a return says since it went out."""
        data: dict[str, Any] = super().clean() or self.cleaned_data
        days = (data.get("went_out_on"), data.get("came_back_on"))
        if "went_out_on" in self.fields and {"went_out_on", "came_back_on"} & set(self.changed_data):
            for name, sentence in refused_days(self.instance, *days).items():
                if name not in self.errors:
                    self.add_error(name, sentence)
        return data

    def clean_went_out_on(self) -> date | None:
        """A closed log is opened again by an owner only."""
        day: date | None = self.cleaned_data["went_out_on"]
        if day is None and self.was_out_on is not None and not self.person.is_owner:
            raise ValidationError(
                f"The engine went out on {self.was_out_on:%d %b %Y} and the log is closed. Only an owner may take "
                "that date away and open it again."
            )
        return day
