"""What a tablet sends for one reading: read into an entry, with a sentence for whatever does not fit."""

from collections.abc import Mapping
from datetime import datetime
from uuid import UUID

from django.http import QueryDict
from django.utils import timezone
from django.utils.dateparse import parse_datetime

from builds.models import Build, Instrument, Person, Reading
from builds.recording import EntryRefused

STALE_PAGE = "This page is too old to save from. Copy the value down, load it again, and type it there."


def require_same_person(data: QueryDict, person: Person) -> None:
    """A reading that waited on the tablet belongs to the one who keyed it in, not to who logs in later."""
    keyed_by = data.get("by", "")
    if keyed_by and keyed_by != str(person.pk):
        raise EntryRefused(
            "by", "Somebody else keyed this in. It goes into the book when they are logged in on this tablet."
        )


def read_client_id(data: QueryDict) -> UUID:
    """The id that the device made."""
    try:
        return UUID(data.get("client_id", ""))
    except ValueError:
        raise EntryRefused("client_id", STALE_PAGE) from None


def read_time(data: QueryDict) -> datetime | None:
    """The moment at which the device says this was taken; nothing said is now."""
    text = data.get("taken_at", "")
    if not text:
        return None
    try:
        moment = parse_datetime(text)
    except ValueError:
        moment = None
    if moment is None:
        raise EntryRefused(
            "taken_at", f"“{text[:40]}” is not a time. Set the tablet's clock and load the page again."
        )
    return moment if timezone.is_aware(moment) else timezone.make_aware(moment)


def read_instrument(data: QueryDict, known: Mapping[int, Instrument] | None = None) -> Instrument | None:
    """The instrument that was chosen, if any; `known` are those at hand already."""
    pk = data.get("instrument", "")
    if not pk:
        return None
    if known and pk.isdigit() and int(pk) in known:
        return known[int(pk)]
    found = Instrument.objects.filter(pk=pk).first() if pk.isdecimal() and len(pk) < 10 else None
    if found is None:
        raise EntryRefused("instrument", "This instrument is not in the drawer any more. Choose another one.")
    return found


def read_corrected(data: QueryDict, build: Build) -> Reading | None:
    """The reading that this one corrects, if any."""
    client_id = data.get("corrects", "")
    if not client_id:
        return None
    try:
        found: Reading | None = (
            Reading.objects.filter(build=build, client_id=UUID(client_id))
            .select_related("corrected_by")
            .first()
        )
    except ValueError:
        found = None
    if found is None:
        raise EntryRefused(
            "corrects", "The reading to correct is not in the book. Load the page again and look."
        )
    return found


def read_struck(data: QueryDict, build: Build) -> Reading:
    """The reading to take back."""
    found = read_corrected(data, build)
    if found is None:
        raise EntryRefused(
            "corrects", "The reading to take back is not in the book. Load the page again and look."
        )
    return found
