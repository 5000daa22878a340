"""How a reading was taken, for the list of readings: a height's blade and pack, the picture a mark was measured on."""

from decimal import Decimal

from builds.models import Photo, Reading
from valvetrain.characteristics import HEIGHT_WAYS
from valvetrain.models import FittedPack
from valvetrain.packwords import amount, pack_words, total_words


def height_notes(readings: list[Reading], length_unit: str) -> dict[int, str]:
    """A line for each height among some readings. One look for all their packs."""
    heights = [
        reading for reading in readings if reading.characteristic in HEIGHT_WAYS and not reading.struck_out
    ]
    wanted = {reading.context["pack"] for reading in heights if reading.context.get("pack")}
    packs: dict[str, FittedPack] = {}
    if wanted:
        found = FittedPack.objects.filter(client_id__in=wanted).select_related("stand")
        packs = {str(pack.client_id): pack for pack in found.prefetch_related("stand__pads", "pieces__pad")}
    return {reading.pk: _note(reading, packs, length_unit) for reading in heights}


def _note(reading: Reading, packs: dict[str, FittedPack], length_unit: str) -> str:
    feeler = Decimal((reading.context.get("foot_feeler") or {}).get("value") or 0)
    foot = f"with {amount(feeler, length_unit)} under the foot, " if feeler else ""
    return foot + pack_line(packs.get(str(reading.context.get("pack", ""))), length_unit)


def pack_line(pack: FittedPack | None, length_unit: str) -> str:
    """A pack as it lay in place: pack .015 + .010; with its total where that was measured."""
    if pack is None or not pack.pieces.all():
        return "no shims in place"
    measured = total_words(pack, length_unit) if pack.measured_total is not None else ""
    return f"pack {pack_words(pack, length_unit)}{measured}"


def photo_notes(readings: list[Reading], length_unit: str) -> dict[int, str]:
    """On which picture a reading was measured. One look for all their photos."""
    wanted = {reading.photo_id for reading in readings if reading.photo_id is not None}
    names = dict(Photo.objects.filter(pk__in=wanted).values_list("pk", "name")) if wanted else {}
    return {
        reading.pk: f"measured on photo {names[reading.photo_id]}"
        for reading in readings
        if reading.photo_id in names and not reading.struck_out
    }
