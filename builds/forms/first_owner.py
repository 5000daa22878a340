"""The form that makes the owner's account."""

from typing import Any

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from builds.first_owner import OneTimeCode
from builds.forms.base import RecordForm
from builds.forms.people import USERNAME_MESSAGES
from builds.forms.sentences import Sentences
from builds.models import Person

OWNER_PASSWORD_LENGTH = 15


class FirstOwnerForm(Sentences, RecordForm):
    """Name, log-in name, a long password twice, and the code from the terminal."""

    password = forms.CharField(
        label="Password",
        strip=False,
        help_text=f"At least {OWNER_PASSWORD_LENGTH} characters: four or five words not usually together.",
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )
    password_again = forms.CharField(
        label="Password, once more",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )
    one_time_code = forms.CharField(
        label="Code from the terminal",
        help_text="It stands in the window where Standbook was started, on the shop PC.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters"}),
    )

    class Meta:
        model = Person
        fields = ["name", "username"]
        labels = {"username": "Log-in name"}
        help_texts = {"name": "As it should stand on a sheet.", "username": "Short, without spaces: nora."}
        error_messages = USERNAME_MESSAGES

    field_order = ["name", "username", "password", "password_again", "one_time_code"]

    def __init__(self, *args: Any, code: OneTimeCode, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.code = code

    def clean_password(self) -> str:
        """Ask fifteen characters of the owner: this account can undo what the others are kept from."""
        password: str = self.cleaned_data["password"]
        if len(password) < OWNER_PASSWORD_LENGTH:
            raise ValidationError(
                f"The owner's password needs at least {OWNER_PASSWORD_LENGTH} characters; this one has "
                f"{len(password)}. Add a word or two."
            )
        return password

    def clean_one_time_code(self) -> str:
        """Check the code; after five wrong ones the terminal shows a new one."""
        typed: str = self.cleaned_data["one_time_code"]
        if not self.code.fits(typed):
            raise ValidationError(
                "That is not the code that stands in the terminal now. After five misses a new one is shown."
            )
        return typed

    def clean(self) -> dict[str, Any]:
        """Compare the two passwords, and hold the password against the name."""
        cleaned: dict[str, Any] = super().clean() or {}
        password = cleaned.get("password")
        if password and "password_again" in cleaned and password != cleaned["password_again"]:
            self.add_error("password_again", "The two passwords differ. Type the same one twice.")
        if password:
            person = Person(name=cleaned.get("name", ""), username=cleaned.get("username", ""))
            try:
                validate_password(password, person)
            except ValidationError as error:
                self.add_error("password", error)
        return cleaned
