"""People: who may log in, under what name, and reading which unit."""

from typing import TYPE_CHECKING, Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm, PasswordChangeForm, SetPasswordForm
from django.contrib.auth.password_validation import password_validators_help_texts, validate_password
from django.core.exceptions import ValidationError

from builds.forms.base import BookForm, OnceForm
from builds.forms.sentences import Sentences
from builds.models import Person

# Django cannot take type arguments for this form where the book runs.
if TYPE_CHECKING:
    _SetPasswordForm = SetPasswordForm[Person]
else:
    _SetPasswordForm = SetPasswordForm

PASSWORDS_DIFFER = "The two passwords are not the same. Type the same one in both fields."
LABELS = {"username": "Log-in name", "is_superuser": "owner: may change people, limits and letterhead"}
HELP = {"username": "Short, without spaces.", "is_superuser": ""}
USERNAME_WRONG = (
    "Log-in name: there is a space or a sign in it that does not fit. Type letters and digits only: nora."
)
USERNAME_MESSAGES = {
    "username": {
        "unique": "Somebody has this log-in name already. Choose another one.",
        "invalid": USERNAME_WRONG,
    }
}


class LogInForm(Sentences, AuthenticationForm):
    """Name and password."""

    error_messages = {
        "invalid_login": "This log-in name and this password do not go together. Look at capitals and try again.",
        "inactive": "This person no longer works in this book. Ask an owner.",
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["username"].label = LABELS["username"]


class MeForm(BookForm):
    """What a person may change of their own account."""

    class Meta:
        model = Person
        fields = ["name", "length_unit"]
        help_texts = {"name": "As it stands on a sheet."}


class NewPersonForm(OnceForm):
    """Somebody new at the shop, with a first password that they change themselves."""

    password = forms.CharField(
        label="First password",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    class Meta:
        model = Person
        fields = ["name", "username", "length_unit", "is_superuser"]
        labels, help_texts, error_messages = LABELS, HELP, USERNAME_MESSAGES

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["password"].help_text = " ".join(password_validators_help_texts())

    def _post_clean(self) -> None:
        super()._post_clean()  # type: ignore[misc]
        password = self.cleaned_data.get("password")
        if password:
            try:
                validate_password(password, self.instance)
            except ValidationError as error:
                self.add_error("password", error)
            self.instance.set_password(password)


class PersonForm(BookForm):
    """What an owner may change of somebody's account."""

    class Meta:
        model = Person
        fields = ["name", "username", "length_unit", "is_superuser"]
        labels, help_texts, error_messages = LABELS, HELP, USERNAME_MESSAGES

    def clean_is_superuser(self) -> bool:
        """The book always has an owner."""
        owner: bool = self.cleaned_data["is_superuser"]
        if not owner and Person.objects.get(pk=self.instance.pk).is_last_owner():
            raise ValidationError(
                f"{self.instance.name} is the only owner. Make somebody else an owner first."
            )
        return owner


class NewPasswordForm(Sentences, _SetPasswordForm):
    """A new password that an owner sets for somebody who lost theirs."""

    error_messages = {**SetPasswordForm.error_messages, "password_mismatch": PASSWORDS_DIFFER}


class OwnPasswordForm(Sentences, PasswordChangeForm):
    """A new password that a person sets for themselves."""

    error_messages = {
        "password_incorrect": "That is not your password now. Type it once more, capitals and all.",
        "password_mismatch": PASSWORDS_DIFFER,
    }
