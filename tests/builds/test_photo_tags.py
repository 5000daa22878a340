"""Tags of place and person go, the picture stays to the last bit, whatever state the tags are in."""

import io

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from builds.photos import exif
from builds.photos.intake import look
from builds.photos.parts import Fault, Unfit
from builds.photos.tags import clear
from builds.recording import EntryRefused
from tests.builds.photo_files import (
    KINDS,
    MEDIA,
    OWNER,
    SERIAL,
    gradient,
    picture,
    pixels,
    segment,
    tagged,
    tags,
)

UTF16_OWNER = OWNER.decode().encode("utf-16le")


def cleared(kind: str, data: bytes | None = None) -> bytes:
    return clear(tagged(kind) if data is None else data, MEDIA[kind]).data


@pytest.mark.parametrize("kind", KINDS)
def test_the_picture_is_the_same_to_the_last_pixel(kind: str) -> None:
    assert np.array_equal(pixels(cleared(kind)), pixels(tagged(kind)))


@pytest.mark.parametrize("kind", KINDS)
def test_no_byte_of_the_owner_or_the_serial_number_is_left(kind: str) -> None:
    data = cleared(kind)
    for secret in (OWNER, SERIAL, UTF16_OWNER, b"Test-Owner", b"creator"):
        assert secret in tagged(kind) or secret in (b"creator", UTF16_OWNER)
        assert secret not in data


@pytest.mark.parametrize("kind", KINDS)
def test_an_independent_reader_finds_no_place_and_no_owner(kind: str) -> None:
    with Image.open(io.BytesIO(cleared(kind))) as found:
        told = found.getexif()
        inner = told.get_ifd(0x8769)
        assert told.get_ifd(0x8825) == {}
        assert not {0x013B, 0x8298, 0x013C, 0x9C9D, 0x8825} & set(told)
        assert not {0xA430, 0xA431, 0xA435, 0x9286, 0x927C, 0xA420} & set(inner)
        assert not found.info.get("xmp", b"").strip()


@pytest.mark.parametrize("kind", KINDS)
def test_what_says_how_it_was_taken_stays(kind: str) -> None:
    with Image.open(io.BytesIO(cleared(kind))) as found:
        told = found.getexif()
        inner = told.get_ifd(0x8769)
        assert (told[0x010F], told[0x0110], told[0x0132]) == ("Testmaker", "Model T", "2026:03:04 05:06:07")
        assert (inner[0x9003], inner[0xA434]) == ("2026:03:04 05:06:07", "Lens 35")


@pytest.mark.parametrize("kind", ["jpeg", "png", "webp"])
@pytest.mark.parametrize("orientation", range(1, 9))
def test_the_way_up_stays(kind: str, orientation: int) -> None:
    with Image.open(io.BytesIO(cleared(kind, tagged(kind, orientation)))) as found:
        assert found.getexif()[0x0112] == orientation


@pytest.mark.parametrize("kind", KINDS)
def test_what_was_taken_out_is_told(kind: str) -> None:
    removed = clear(tagged(kind), MEDIA[kind]).removed
    assert {
        "where it was taken",
        "artist",
        "copyright",
        "owner of the camera",
        "serial number of the camera",
    } <= set(removed)
    assert len(set(removed)) == len(removed)


@pytest.mark.parametrize("kind", KINDS)
def test_a_file_without_tags_stays_byte_for_byte(kind: str) -> None:
    data = picture(kind)
    found = clear(data, MEDIA[kind])
    assert found.removed == ()
    assert found.data == data


@pytest.mark.parametrize("kind", KINDS)
def test_clearing_twice_is_clearing_once(kind: str) -> None:
    once = clear(tagged(kind), MEDIA[kind]).data
    again = clear(once, MEDIA[kind])
    assert again.data == once


def test_what_lies_behind_a_jpeg_is_cut() -> None:
    found = clear(picture("jpeg") + picture("jpeg"), "image/jpeg")
    assert found.data == picture("jpeg")
    assert found.removed == ("what lay behind the picture",)


def test_the_list_of_further_pictures_goes_with_them() -> None:
    plain = picture("jpeg")
    told = clear(plain[:2] + segment(0xE2, b"MPF\0MM\0*\0\0\0\x08\0\0") + plain[2:] + plain, "image/jpeg")
    assert told.data == plain
    assert told.removed == ("list of further pictures", "what lay behind the picture")


def test_every_segment_of_the_picture_itself_stays_byte_for_byte() -> None:
    plain = picture("jpeg", gradient(), progressive=True, quality=90)
    more = plain[:2] + segment(0xE1, b"Exif\0\0" + tags().tobytes()[6:]) + segment(0xFE, OWNER) + plain[2:]
    data = clear(more, "image/jpeg").data
    assert data.endswith(plain[20:]), "all behind the first segment, scans and tables"


def test_a_small_picture_with_tags_of_its_own_goes() -> None:
    inner = picture("jpeg", gradient(64, 48), exif=tags())
    block = (
        b"II*\0\x08\0\0\0" + b"\0\0" + (14).to_bytes(4, "little") + b"\x02\0"
        + b"\x01\x02\x04\0\x01\0\0\0" + (44).to_bytes(4, "little")
        + b"\x02\x02\x04\0\x01\0\0\0" + len(inner).to_bytes(4, "little") + b"\0\0\0\0"
    )  # fmt: skip
    block += inner
    found = exif.blank(block)
    assert OWNER not in found.data
    assert len(found.data) == len(block)


def test_a_small_picture_without_tags_stays() -> None:
    inner = picture("jpeg", gradient(64, 48))
    block = (
        b"II*\0\x08\0\0\0" + b"\0\0" + (14).to_bytes(4, "little") + b"\x02\0"
        + b"\x01\x02\x04\0\x01\0\0\0" + (44).to_bytes(4, "little")
        + b"\x02\x02\x04\0\x01\0\0\0" + len(inner).to_bytes(4, "little") + b"\0\0\0\0"
    )  # fmt: skip
    assert exif.blank(block + inner).data == block + inner


def test_a_block_that_cannot_be_followed_keeps_the_way_up_alone() -> None:
    block = bytearray(tags(6).tobytes()[6:])
    block[8:10] = b"\xff\xff"  # more tags than there are bytes
    told = exif.blank(bytes(block))
    assert told.removed == ("camera data that could not be read",)
    assert len(told.data) == len(block)
    assert OWNER not in told.data


def test_a_circle_of_directories_ends() -> None:
    block = b"II*\0\x08\0\0\0\x01\0" + b"\x69\x87\x04\0\x01\0\0\0\x08\0\0\0" + b"\x08\0\0\0"
    assert exif.blank(block).data.startswith(b"II*\0")


@pytest.mark.parametrize("kind", KINDS)
def test_a_file_that_stops_early_is_unfit(kind: str) -> None:
    data = tagged(kind)
    whole = len(picture("jpeg")) if kind == "jpeg" else len(data)
    for share in (0.1, 0.5, 0.9):
        with pytest.raises(Unfit):
            clear(data[: int(whole * share)], MEDIA[kind])


def test_pictures_that_move_are_unfit() -> None:
    frames = [gradient(), gradient().transpose(Image.Transpose.ROTATE_180)]
    for kind in ("png", "webp"):
        told = picture(kind, frames[0], save_all=True, append_images=frames[1:])
        with pytest.raises(Unfit) as refused:
            clear(told, MEDIA[kind])
        assert refused.value.fault is Fault.MOVING


SAMPLES = {kind: tagged(kind) for kind in KINDS}


@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=150, deadline=None)
@given(data=st.data())
def test_a_spoilt_file_is_cleared_or_unfit_and_nothing_else(kind: str, data: st.DataObject) -> None:
    spoilt = bytearray(SAMPLES[kind])
    # Mostly in the first part, where the tags stand.
    end = len(spoilt) if data.draw(st.booleans()) else min(len(spoilt), 1500)
    for _ in range(data.draw(st.integers(1, 6))):
        at = data.draw(st.integers(0, end - 1))
        length = data.draw(st.integers(1, 8))
        spoilt[at : at + length] = data.draw(st.binary(min_size=0, max_size=8))
    try:
        found = clear(bytes(spoilt), MEDIA[kind])
    except Unfit:
        return
    assert len(found.data) <= len(spoilt) + 32


@settings(max_examples=400, deadline=None)
@given(data=st.data())
def test_a_spoilt_block_keeps_its_length_and_never_shows_the_place(data: st.DataObject) -> None:
    block = bytearray(tags(6).tobytes()[6:])
    for _ in range(data.draw(st.integers(0, 4))):
        at = data.draw(st.integers(0, len(block) - 1))
        block[at] = data.draw(st.integers(0, 255))
    found = exif.blank(bytes(block))
    assert len(found.data) == len(block)
    told = Image.Exif()
    told.load(found.data)
    assert 0x8825 not in told


@settings(max_examples=200, deadline=None)
@given(st.binary(max_size=400))
def test_any_bytes_at_all_are_blanked_without_a_fault(noise: bytes) -> None:
    assert len(exif.blank(noise).data) == len(noise)
    assert len(exif.blank(b"II*\0\x08\0\0\0" + noise).data) == len(noise) + 8


@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_a_spoilt_file_is_looked_at_or_refused_in_words(kind: str, data: st.DataObject) -> None:
    spoilt = bytearray(SAMPLES[kind])
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(spoilt) - 1))
        spoilt[at] = data.draw(st.integers(0, 255))
    try:
        told = f"picture.jpg {look(bytes(spoilt), 'picture.jpg').width}"
    except EntryRefused as refused:
        told = refused.sentence
    assert told.startswith("picture.jpg ")
