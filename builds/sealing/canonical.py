"""One way of writing a thing down as bytes, and its digest.

JSON by RFC 8785: the same figures give the same bytes on any machine, so a digest can be worked out anew by anybody.
Exact decimals and times come as text; a float goes in as ECMAScript writes it.
"""

import hashlib
from datetime import UTC, datetime
from typing import Any

import rfc8785

GROUP = 4


class NotPlain(ValueError):
    """Something that JSON cannot say exactly: a number that is not finite or too large, a key that is no text."""


def canonical(plain: Any) -> bytes:
    """Plain data (dict, list, text, number, True, False, None) as canonical JSON. Raises `NotPlain`.

    >>> canonical({"b": [1.0, "ü"], "a": None}).decode()
    '{"a":null,"b":[1,"ü"]}'
    """
    try:
        return rfc8785.dumps(plain)
    except (rfc8785.CanonicalizationError, UnicodeEncodeError) as error:
        raise NotPlain(f"This cannot be written down exactly: {error}") from error


def digest(data: bytes) -> str:
    """SHA-256 in hexadecimal.

    >>> digest(b"abc")[:16]
    'ba7816bf8f01cfea'
    """
    return hashlib.sha256(data).hexdigest()


def digest_words(hexadecimal: str) -> str:
    """A digest in groups of four, to be read over a telephone and compared group by group.

    >>> digest_words("ba7816bf8f01")
    'ba78 16bf 8f01'
    """
    return " ".join(hexadecimal[at : at + GROUP] for at in range(0, len(hexadecimal), GROUP))


def digest_lines(hexadecimal: str) -> tuple[str, str]:
    """The same in two lines, for a page: the eye finds its place again.

    >>> digest_lines("ba7816bf8f01cfea")
    ('ba78 16bf', '8f01 cfea')
    """
    half = len(hexadecimal) // 2
    return digest_words(hexadecimal[:half]), digest_words(hexadecimal[half:])


def time_text(moment: datetime) -> str:
    """A moment as text, in UTC to the microsecond, the same in every time zone.

    >>> from datetime import timedelta, timezone
    >>> time_text(datetime(2026, 3, 2, 10, 15, tzinfo=timezone(timedelta(hours=1))))
    '2026-03-02T09:15:00.000000Z'
    """
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
