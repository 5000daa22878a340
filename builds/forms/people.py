"""People: who may log in, under what name, and reading which unit."""

from typing import TYPE_CHECKING, Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm, PasswordChangeForm, SetPasswordForm
from django.contrib.auth.hashers import make_password
from django.contrib.auth.password_validation import password_validators_help_texts, validate_password
from django.core.exceptions import ValidationError
from django.http import HttpRequest

from builds.forms.base import BookForm, OnceForm
from builds.forms.sentences import Sentences
from builds.models import Person, WorksAs
from builds.pins import FEWEST, MOST, is_pin, why_trivial
from builds.secrets import SecretRefused, confirm_password
from builds.tracking import as_one_edit

# Django cannot take type arguments for this form where the book runs.
if TYPE_CHECKING:
    _SetPasswordForm = SetPasswordForm[Person]
else:
    _SetPasswordForm = SetPasswordForm

PASSWORDS_DIFFER = "The two passwords are not the same. Type the same one in both fields."
OWNER = "owner"
PLACES = [(OWNER, "owner"), *WorksAs.choices]
PLACE_HELP = "Owner: everything. Builder: measures, keeps job files. Office: customers, engines, jobs, parts; reads all."
FIELDS = ["name", "username", "length_unit", "may_check"]
LABELS = {"username": "Log-in name", "may_check": "checks what others measured, and signs second"}
HELP = {"username": "Short, without spaces.", "may_check": ""}
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
    """What a person may change of their own account. Not the name: it stands on sheets, and nobody signs as another."""

    class Meta:
        model = Person
        fields = ["length_unit"]


class _Place(BookForm):
    """What somebody is here: an owner, a builder, or of the office."""

    place = forms.ChoiceField(
        label="Works here as", choices=PLACES, initial=WorksAs.BUILDER, help_text=PLACE_HELP
    )

    class Meta:
        model = Person
        fields = FIELDS
        labels, help_texts, error_messages = LABELS, HELP, USERNAME_MESSAGES

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not self.instance._state.adding:
            self.initial["place"] = self.instance.works_as
        self.order_fields(["name", "username", "place", "may_check", "length_unit"])

    def clean_name(self) -> str:
        """Two people of one name could not be told apart on a sheet, nor could one be kept from signing as the other."""
        name = " ".join(self.cleaned_data["name"].split())
        others = Person.objects.exclude(pk=self.instance.pk).values_list("name", flat=True)
        if name.casefold() in {" ".join(other.split()).casefold() for other in others}:
            raise ValidationError(
                "Somebody has, or had, this name already. Add what tells them apart on a sheet, as an initial."
            )
        return name

    def clean_place(self) -> str:
        """The book always has an owner."""
        place: str = self.cleaned_data["place"]
        found = Person.objects.filter(pk=self.instance.pk).first()
        if place != OWNER and found is not None and found.is_last_owner():
            raise ValidationError(
                f"{self.instance.name} is the only owner. Make somebody else an owner first."
            )
        return place

    def _post_clean(self) -> None:
        place = self.cleaned_data.get("place")
        if place:
            self.instance.is_superuser = self.instance.is_staff = place == OWNER
            self.instance.role = WorksAs.BUILDER if place == OWNER else place
        super()._post_clean()  # type: ignore[misc]


class NewPersonForm(_Place, OnceForm):
    """Somebody new at the shop, with a first password that they change themselves."""

    password = forms.CharField(
        label="First password",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    class Meta(_Place.Meta):
        pass

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["password"].help_text = " ".join(password_validators_help_texts())

    def _post_clean(self) -> None:
        super()._post_clean()
        password = self.cleaned_data.get("password")
        if password:
            try:
                validate_password(password, self.instance)
            except ValidationError as error:
                self.add_error("password", error)
            self.instance.set_password(password)


class PersonForm(_Place):
    """What an owner may change of somebody's account."""

    class Meta(_Place.Meta):
        pass

    @as_one_edit()
    def save(self, commit: bool = True) -> Person:
        """Write what changed, and what the person is here."""
        person: Person = super().save(commit=commit)
        if commit and "place" in self.changed_data:
            person.save(update_fields=["is_superuser", "is_staff", "role"])
        return person


class NewPasswordForm(Sentences, _SetPasswordForm):
    """A new password that an owner sets for somebody who lost theirs. Their PIN goes with the old one."""

    error_messages = {**SetPasswordForm.error_messages, "password_mismatch": PASSWORDS_DIFFER}

    def save(self, commit: bool = True) -> Person:
        """Set the password and take the PIN away."""
        self.user.pin = ""
        person: Person = super().save(commit=commit)
        return person


class OwnPasswordForm(Sentences, PasswordChangeForm):
    """A new password that a person sets for themselves."""

    error_messages = {
        "password_incorrect": "That is not your password now. Type it once more, capitals and all.",
        "password_mismatch": PASSWORDS_DIFFER,
    }


class PinForm(Sentences, forms.Form):
    """A PIN of one's own for the bench, set with the password; left empty, there is none any more."""

    password = forms.CharField(
        label="Your password",
        strip=False,
        max_length=128,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )
    pin = forms.CharField(
        label="New PIN",
        required=False,
        max_length=128,
        help_text=f"{FEWEST} to {MOST} figures. Empty: no PIN any more.",
        widget=forms.PasswordInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )
    again = forms.CharField(
        label="The same PIN again",
        required=False,
        max_length=128,
        widget=forms.PasswordInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )

    def __init__(self, *args: Any, request: HttpRequest, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.request, self.person = request, person

    def clean_password(self) -> str:
        """Ask who it is; wrong ones are counted as at the log-in."""
        password: str = self.cleaned_data["password"]
        try:
            confirm_password(self.request, self.person, password)
        except SecretRefused as refused:
            raise ValidationError(refused.sentence) from None
        return password

    def clean_pin(self) -> str:
        """Refuse what is no PIN, and what everybody tries first."""
        pin: str = self.cleaned_data["pin"]
        if pin and not is_pin(pin):
            raise ValidationError(f"A PIN is {FEWEST} to {MOST} figures and nothing else. Type figures only.")
        why = why_trivial(pin) if pin else ""
        if why:
            raise ValidationError(f"This PIN is easily guessed: {why}. Choose another one.")
        return pin

    def clean(self) -> dict[str, Any]:
        """Both fields say the same."""
        pin = self.cleaned_data.get("pin")
        if pin is not None and pin != self.cleaned_data.get("again", ""):
            self.add_error("again", "The two PINs are not the same. Type the same one in both fields.")
        return self.cleaned_data

    def save(self) -> None:
        """Keep the PIN as a hash, as a password is kept."""
        pin: str = self.cleaned_data["pin"]
        Person.objects.filter(pk=self.person.pk).update(pin=make_password(pin) if pin else "")
