"""Taking back what was measured on a photo that is not this valve's any more: filed at another one, or set aside."""

from uuid import uuid5

from django.db import transaction

from builds.models import Build, Person, Reading
from builds.recording import EntryRefused, strike_out
from valvetrain.mark_photos import MarkPhoto
from valvetrain.mark_steps import MARK_KEYS
from valvetrain.measured_photos import strays

STILL_HERE = "This photo is filed at {}: measure the mark on it again, and that corrects what stands."


def measured_on(on: MarkPhoto) -> list[Reading]:
    """What stands in the log of this valve's mark as it was measured on this photo."""
    standing = Reading.objects.standing().filter(
        build=on.head.job, position=on.address, characteristic__in=MARK_KEYS, photo=on.photo
    )
    return list(standing.select_related("photo").prefetch_related("photo__filings"))


def to_take_back(on: MarkPhoto) -> list[Reading]:
    """The same, where the photo is another valve's now; nothing while it is this one's."""
    standing = measured_on(on)
    return standing if strays(standing, on.address) else []


def take_back(on: MarkPhoto, person: Person) -> list[Reading]:
    """Strike out all that was measured on this photo at this valve, or nothing of it; safe to repeat.

    Raises `EntryRefused` with a sentence while the photo is this valve's.
    """
    with transaction.atomic():
        Build.objects.select_for_update(of=("self",)).get(pk=on.head.job.pk)
        standing = measured_on(on)
        since = strays(standing, on.address)
        if standing and not since:
            raise EntryRefused("photo", STILL_HERE.format(on.address))
        # Named after the reading that it strikes out: sent twice, it is one.
        return [
            strike_out(
                on.head.job, person, client_id=uuid5(reading.client_id, "taken back"), reading=reading,
                reason=f"its photo {since[reading.photo]}",
            )[0]
            for reading in standing
            if reading.photo is not None
        ]  # fmt: skip
