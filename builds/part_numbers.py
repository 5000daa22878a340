"""Lots, makers' numbers and serial numbers: which signs they may have, and how they are found whatever their capitals."""

import unicodedata
from itertools import product

# What a person would call a sign that is not seen.
CALLED = {
    "\t": "a tab", "\n": "a line end", "\r": "a line end", "\u2028": "a line end", "\u2029": "a line end",
    "\u00a0": "a space that does not break", "\u200b": "a space of no width", "\ufeff": "an invisible mark",
}  # fmt: skip
UNSEEN = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
MOST_LETTERS_TRIED = 6


def odd_sign(text: str) -> str:
    """The first sign that nobody sees, in words; nothing when there is none.

    >>> odd_sign("AB 12/4 %_"), odd_sign("Lot Ü-7 “B”")
    ('', '')
    >>> odd_sign("AB\\t12"), odd_sign("AB\\u200d12"), odd_sign("AB\\u00a012"), odd_sign("AB\\x0712")
    ('a tab', 'an invisible mark', 'a space that does not break', 'a control character')
    """
    for sign in text:
        kind = unicodedata.category(sign)
        if kind in UNSEEN or (kind == "Zs" and sign != " "):
            return CALLED.get(sign) or ("a control character" if kind == "Cc" else _unseen(kind))
    return ""


def _unseen(kind: str) -> str:
    return "an unusual space" if kind == "Zs" else "an invisible mark"


def refused(label: str, text: str) -> str:
    """Why a number cannot be kept as it was typed, and what would be right; nothing when it can."""
    odd = odd_sign(text)
    if not odd:
        return ""
    return (
        f"{label}: there is {odd} in it, which nobody sees and nobody would find again. Type it as it stands on the "
        "part, by letters, digits, signs and plain spaces."
    )


def kept_as(text: str) -> str:
    """A number as the book keeps it: without spaces around it, and an Ü as one letter however it was typed.

    >>> kept_as("  L-22 ") , len(kept_as("U\\u0308"))
    ('L-22', 1)
    """
    return unicodedata.normalize("NFC", text.strip(" "))


def written_alike(text: str) -> list[str]:
    """Every way in which the database may have this number in capitals. SQLite turns over the letters A to Z alone.

    >>> written_alike("l-22a"), sorted(written_alike("ü7"))
    (['L-22A'], ['Ü7', 'ü7'])
    """
    choices: list[set[str]] = []
    for letter in kept_as(text):
        both = {letter.upper(), letter.lower()} if not letter.isascii() else {letter.upper()}
        choices.append({each for each in both if len(each) == 1} or {letter})
    if sum(len(each) > 1 for each in choices) > MOST_LETTERS_TRIED:
        return sorted({"".join(min(each) for each in choices), "".join(max(each) for each in choices)})
    return sorted("".join(letters) for letters in product(*(sorted(each) for each in choices)))
