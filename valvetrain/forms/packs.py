"""The forms of the packs for an engine: what is wanted of each stand, and a pack fitted as proposed."""

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal

from django import forms
from django.http import QueryDict

from builds.forms.entries import STALE_PAGE, read_client_id, require_same_person
from builds.measures import MeasureError, for_field, parse
from builds.models import Person
from builds.recording import EntryRefused
from valvetrain.drawer_count import InDrawer
from valvetrain.forms.bench import read_pieces
from valvetrain.logbook import MOST_PIECES, PackEntry, Pieces
from valvetrain.packwords import shim_name
from valvetrain.shimming import BENDING, How, Wish, Wishes, usual_way
from valvetrain.standstate import StandState

HOW_WORDS = [
    (How.LEAVE.value, "leave its pack as it is"),
    (How.ALIKE.value, "same pack under every pad"),
    (How.TILT.value, "pads may differ"),
]
MOST_BENDING = Decimal("0.02")


class WishesForm(forms.Form):
    """What is wanted of every stand that is read; asked by address line, so that a page can be sent to a colleague."""

    bending = forms.CharField(
        required=False, max_length=40, label="Bending allowance",
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
        help_text="How far the pack of a pad between others may be off the straight line through the outermost two.",
    )  # fmt: skip

    def __init__(self, data: QueryDict, *, stands: Sequence[StandState], unit: str) -> None:
        self.stands, self.unit = stands, unit
        asked = {"bending": for_field(BENDING, unit), **data.dict()}
        super().__init__(self._with_usual(asked), label_suffix="")
        for stand in stands:
            self.fields[_how(stand)] = forms.ChoiceField(
                choices=HOW_WORDS, label=f"{stand.address}: what to do"
            )
            self.fields[_must(stand)] = forms.CharField(
                required=False, max_length=80, label=f"{stand.address}: shims that must be under each pad",
                widget=forms.TextInput(attrs={"autocomplete": "off", "placeholder": "none"}),
            )  # fmt: skip

    def _with_usual(self, asked: Mapping[str, object]) -> dict[str, object]:
        """What was asked; for a stand of which nothing, or no known way, was said, what suits it."""
        filled = dict(asked)
        for stand in self.stands:
            if filled.get(_how(stand)) not in dict(HOW_WORDS):
                filled[_how(stand)] = usual_way(stand).value
        return filled

    @property
    def rows(self) -> Iterator[tuple[StandState, forms.BoundField, forms.BoundField]]:
        """Each stand with its two fields."""
        for stand in self.stands:
            yield stand, self[_how(stand)], self[_must(stand)]

    def clean_bending(self) -> Decimal:
        """A length that a bar may be bent by; nothing typed is none at all."""
        text = self.cleaned_data["bending"]
        if not text.strip():
            return Decimal(0)
        try:
            bending = parse(text, unit=self.unit).base
        except MeasureError as error:
            raise forms.ValidationError(f"Bending allowance: {error.sentence}") from None
        if bending > MOST_BENDING:
            raise forms.ValidationError(
                f"Bending allowance: {text.strip()} would bend any stand. Type {for_field(MOST_BENDING, self.unit)} "
                f"{self.unit} or less."
            )
        return bending

    def clean(self) -> None:
        """Shims that must be in a pack are shims of this drawer, and not more than a pack has."""
        self.must: dict[int, Pieces] = {}
        for stand in self.stands:
            try:
                pieces = read_pieces(self.cleaned_data.get(_must(stand), ""), self.unit)
                _check_must(stand, pieces, self.unit)
            except EntryRefused as error:
                self.add_error(_must(stand), f"{stand.address}: {error.sentence}")
                continue
            self.must[stand.stand.pk] = pieces

    def wishes(self) -> Wishes:
        """What was asked for, once it is valid."""
        return Wishes(
            {
                stand.stand.pk: Wish(How(self.cleaned_data[_how(stand)]), tuple(self.must[stand.stand.pk]))
                for stand in self.stands
            },
            self.cleaned_data["bending"],
        )


def _how(stand: StandState) -> str:
    return f"how-{stand.stand.pk}"


def _must(stand: StandState) -> str:
    return f"must-{stand.stand.pk}"


def _check_must(stand: StandState, pieces: Pieces, unit: str) -> None:
    there: dict[Decimal, InDrawer] = {line.thickness: line for line in stand.reach}
    for thickness, count in pieces:
        if not 1 <= count <= MOST_PIECES:
            raise EntryRefused("must", f"{count} of one shim is no pack. Type each one: .015 .010")
        wanted = count * stand.pad_count
        line = there.get(thickness)
        if line is None or line.count < wanted:
            some = f"only {line.count}" if line is not None else "none"
            raise EntryRefused(
                "must",
                f"it takes {wanted} of {shim_name(thickness, unit)}, one lot for each pad, and there are {some} in the "
                "drawer. Take another thickness, or count the drawer.",
            )


def read_fit(data: QueryDict, person: Person) -> PackEntry:
    """Read a pack that was fitted as proposed. Raises `EntryRefused`."""
    require_same_person(data, person)
    under = {
        name.removeprefix("pad-"): read_pieces(str(data[name]), "in")
        for name in data
        if name.startswith("pad-")
    }
    if "pieces" not in data and not under:
        raise EntryRefused("pieces", STALE_PAGE)
    return PackEntry(
        client_id=read_client_id(data),
        pieces=read_pieces(data.get("pieces", ""), "in"),
        under={letter: pieces for letter, pieces in under.items() if pieces},
        instead_of=data.get("instead_of", ""),
    )
