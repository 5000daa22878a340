"""Canonical JSON and SHA-256 against their published examples.

RFC 8785: sections 3.2.2 and 3.2.3 and appendix B, written from memory and then compared with several independent public
reproductions of the same tables, which agree with one another; the RFC's own text was not at hand. SHA-256: FIPS 180-4's
examples, from memory.
"""

import json
import math
import struct

import pytest

from builds.sealing.canonical import NotPlain, canonical, digest, digest_words

# Published: RFC 8785, appendix B. Bits of the number, and how it is written.
NUMBERS = [
    ("0000000000000000", "0"),
    ("8000000000000000", "0"),
    ("0000000000000001", "5e-324"),
    ("8000000000000001", "-5e-324"),
    ("7fefffffffffffff", "1.7976931348623157e+308"),
    ("ffefffffffffffff", "-1.7976931348623157e+308"),
    ("4340000000000000", "9007199254740992"),
    ("c340000000000000", "-9007199254740992"),
    ("4430000000000000", "295147905179352830000"),
    ("44b52d02c7e14af5", "9.999999999999997e+22"),
    ("44b52d02c7e14af6", "1e+23"),
    ("44b52d02c7e14af7", "1.0000000000000001e+23"),
    ("444b1ae4d6e2ef4e", "999999999999999700000"),
    ("444b1ae4d6e2ef4f", "999999999999999900000"),
    ("444b1ae4d6e2ef50", "1e+21"),
    ("3eb0c6f7a0b5ed8c", "9.999999999999997e-7"),
    ("3eb0c6f7a0b5ed8d", "0.000001"),
    ("41b3de4355555553", "333333333.3333332"),
    ("41b3de4355555554", "333333333.33333325"),
    ("41b3de4355555555", "333333333.3333333"),
    ("41b3de4355555556", "333333333.3333334"),
    ("41b3de4355555557", "333333333.33333343"),
    ("becbf647612f3696", "-0.0000033333333333333333"),
    ("43143ff3c1cb0959", "1424953923781206.2"),
]


@pytest.mark.parametrize(("bits", "written"), NUMBERS)
def test_numbers_are_written_as_published(bits: str, written: str) -> None:
    number = struct.unpack(">d", bytes.fromhex(bits))[0]
    assert canonical(number).decode() == written


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf, 2**53])
def test_what_json_cannot_say_exactly_is_refused(number: float) -> None:
    with pytest.raises(NotPlain, match="cannot be written down exactly"):
        canonical({"gap": number})


def test_the_published_sample_is_written_as_published() -> None:
    # Published: RFC 8785, section 3.2.2 (input) and 3.2.3 (output).
    sample = json.loads(
        r'{"numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],'
        r' "string": "\u20ac$\u000F\u000aA'
        "'"
        r'\u0042\u0022\u005c\\\"\/", "literals": [null, true, false]}'
    )
    wanted = (
        '{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
        '"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
    )
    assert canonical(sample).decode() == wanted


def test_keys_stand_in_the_published_order() -> None:
    # Published: RFC 8785, section 3.2.3: by UTF-16 units, so the emoji comes before U+FB33.
    sample = {
        "\u20ac": "Euro Sign", "\r": "Carriage Return", "\ufb33": "Hebrew Letter Dalet With Dagesh", "1": "One",
        "\U0001f600": "Emoji: Grinning Face", "\u0080": "Control", "\u00f6": "Latin Small Letter O With Diaeresis",
    }  # fmt: skip
    assert list(json.loads(canonical(sample)).values()) == [
        "Carriage Return", "One", "Control", "Latin Small Letter O With Diaeresis", "Euro Sign", "Emoji: Grinning Face",
        "Hebrew Letter Dalet With Dagesh",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("message", "wanted"),
    [
        # Published: FIPS 180-4 examples, and the empty message of the validation suite.
        (b"abc", "ba7816bf 8f01cfea 414140de 5dae2223 b00361a3 96177a9c b410ff61 f20015ad"),
        (
            b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
            "248d6a61 d20638b8 e5c02693 0c3e6039 a33ce459 64ff2167 f6ecedd4 19db06c1",
        ),
        (b"a" * 1_000_000, "cdc76e5c 9914fb92 81a1c7e2 84d73e67 f1809a48 a497200e 046d39cc c7112cd0"),
        (b"", "e3b0c442 98fc1c14 9afbf4c8 996fb924 27ae41e4 649b934c a495991b 7852b855"),
    ],
)
def test_digests_are_as_published(message: bytes, wanted: str) -> None:
    assert digest(message) == wanted.replace(" ", "")


def test_a_digest_is_read_in_sixteen_groups_of_four() -> None:
    words = digest_words(digest(b"abc"))
    assert words.split() == [
        *["ba78", "16bf", "8f01", "cfea", "4141", "40de", "5dae", "2223"],
        *words.split()[8:],
    ]
    assert len(words.split()) == 16
    assert words.replace(" ", "") == digest(b"abc")
