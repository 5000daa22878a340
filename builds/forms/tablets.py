"""The bench's tablets: enrolling one, and who is at the bench."""

from typing import Any

from django import forms
from django.http import HttpRequest
from django.utils.http import url_has_allowed_host_and_scheme

from builds.forms.base import OnceForm
from builds.forms.sentences import Sentences
from builds.models import EnrolledTablet, Person
from builds.secrets import SecretRefused, confirm_password, confirm_pin
from builds.tablets import enrol

LONGEST = 128


class EnrolForm(OnceForm):
    """The name of the tablet that is in the owner's hands. The secret of its cookie is known here alone, and once."""

    secret = ""

    class Meta:
        model = EnrolledTablet
        fields = ["name"]

    def save(self, commit: bool = True) -> EnrolledTablet:
        """Enrol it."""
        tablet, self.secret = enrol(self.cleaned_data["name"], self.instance.enrolled_by)
        return tablet


class WhoForm(Sentences, forms.Form):
    """Who is at the bench: a name, and their PIN or password."""

    person = forms.ModelChoiceField(Person.objects.filter(is_active=True), label="Name", empty_label=None)
    pin = forms.CharField(
        label="PIN",
        required=False,
        max_length=LONGEST,
        widget=forms.PasswordInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )
    password = forms.CharField(
        label="Or the password",
        required=False,
        strip=False,
        max_length=LONGEST,
        widget=forms.PasswordInput(attrs={"autocomplete": "off"}),
    )
    next = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, request: HttpRequest, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.request = request
        self.fields["person"].error_messages["invalid_choice"] = (
            "This person does not work in this book any more. Choose your own name."
        )

    @property
    def by_pin(self) -> bool:
        """Whether it is a PIN that was typed."""
        return not self.cleaned_data.get("password")

    @property
    def onward(self) -> str:
        """The page that was open before."""
        page: str = self.cleaned_data.get("next", "")
        return page if url_has_allowed_host_and_scheme(page, {self.request.get_host()}) else "/"

    def clean(self) -> dict[str, Any]:
        """Check the PIN or the password; wrong ones are counted."""
        data = self.cleaned_data
        person, pin, password = data.get("person"), data.get("pin", "").strip(), data.get("password", "")
        if person is None or self.errors:
            return data
        try:
            if password:
                confirm_password(self.request, person, password)
            elif pin:
                confirm_pin(self.request, person, pin)
            else:
                raise SecretRefused("Nothing is typed. Type your PIN, or your password.")
        except SecretRefused as refused:
            self.add_error("password" if password else "pin", refused.sentence)
        return data
