"""What is sent with a photo, and the form that files one anew."""

from collections.abc import Mapping
from typing import Any
from uuid import uuid4

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest

from builds.forms.base import BookForm
from builds.forms.entries import STALE_PAGE, read_client_id, read_time, require_same_person
from builds.models import Build, Person, Photo, PhotoFiling, PhotoKind
from builds.photos.filing import Filing, file_again
from builds.photos.intake import Sent, refuse_size, too_large_sentence
from builds.photos.upload import too_large
from builds.positions import positions_of
from builds.recording import EntryRefused

FIELDS = ["position", "part", "kind", "note", "set_aside", "reason"]


def read_photo(request: HttpRequest, person: Person) -> Sent:
    """What the device sends for one photo. Raises `EntryRefused` with a sentence for what does not fit."""
    data = request.POST
    dropped = too_large(request)
    if dropped is not None:
        raise EntryRefused("file", too_large_sentence(dropped))
    require_same_person(data, person)
    client_id = read_client_id(data)
    file = request.FILES.get("photo")
    if not isinstance(file, UploadedFile):
        raise EntryRefused("file", "No picture came along. Choose it again and send it once more.")
    name = str(file.name or "")
    refuse_size(file.size or 0, name)
    return Sent(
        client_id=client_id,
        name=name,
        data=file.read(),
        filing=Filing(
            position=data.get("position", "").strip(),
            kind=data.get("kind", "") or PhotoKind.OTHER,
            note=data.get("note", ""),
        ),
        taken_at=read_time(data),
        device=data.get("device", ""),
        sure=data.get("sure") == "yes",
    )


def places_of(build: Build, now: str = "") -> list[tuple[str, list[str]]]:
    """The addresses of a job by what stands there; the one in use now is among them even if it is gone."""
    groups: dict[str, list[str]] = {}
    known: Mapping[str, str] = positions_of(build)
    for address, kind in known.items():
        groups.setdefault(kind, []).append(address)
    if now and now not in known:
        groups["filed before"] = [now]
    return sorted(groups.items(), key=lambda group: (ORDER.get(group[0], len(ORDER)), group[0]))


ORDER = {kind: place for place, kind in enumerate(["valve", "stand", "pad", "cylinder", "main", "engine"])}


class FilingForm(BookForm):
    """Where a photo belongs and what it shows; a new filing beside the older ones."""

    client_id = forms.UUIDField(
        widget=forms.HiddenInput,
        initial=uuid4,
        error_messages={"required": STALE_PAGE, "invalid": STALE_PAGE},
    )

    class Meta:
        model = PhotoFiling
        fields = FIELDS
        help_texts = {
            "position": "None: the photo belongs to the whole job.",
            "set_aside": "For a photo taken by mistake. It stays in the book, and is shown only among those set aside.",
            "reason": "Only for a photo that is set aside.",
        }

    def __init__(self, *args: Any, photo: Photo, **kwargs: Any) -> None:
        filing = photo.filing
        initial = {name: getattr(filing, name) for name in FIELDS}
        super().__init__(*args, initial=initial, **kwargs)
        self.photo = photo
        groups = [
            (kind.capitalize(), [(each, each) for each in addresses])
            for kind, addresses in places_of(photo.build, filing.position)
        ]
        position = forms.ChoiceField(
            label="Address", required=False, choices=[("", "none"), *groups],
            help_text=self.fields["position"].help_text,
        )  # fmt: skip
        self.fields["position"] = position
        part: Any = self.fields["part"]
        part.queryset, part.empty_label = photo.build.parts.all(), "none"
        for name in ("position", "part"):
            self.teach(name)

    def save_once(self, person: Person) -> PhotoFiling | None:
        """Write the filing, once however often it is sent; None when it is refused."""
        if not self.is_valid():
            return None
        told = self.cleaned_data
        filing = Filing(**{name: told[name] for name in FIELDS})
        try:
            written, _new = file_again(self.photo, person, client_id=told["client_id"], filing=filing)
        except EntryRefused as error:
            self.add_error(error.field_name if error.field_name in self.fields else None, error.sentence)
            return None
        return written

    def _post_clean(self) -> None:
        """The record is made by `file_again`, which has its rules and their sentences."""
