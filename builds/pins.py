"""What a PIN must be: four to eight figures that nobody tries first."""

from itertools import pairwise

FEWEST, MOST = 4, 8
# Down the middle of the keys, and other ways of the hand over them; years and pairs are found by rule.
COMMON = frozenset({"2580", "0852", "1379", "1397", "1470", "3690", "147258369", "5683", "1004", "1010"})


def is_pin(text: str) -> bool:
    """Whether this is written like a PIN.

    >>> is_pin("4071"), is_pin("407"), is_pin("four")
    (True, False, False)
    """
    return text.isascii() and text.isdigit() and FEWEST <= len(text) <= MOST


def why_trivial(pin: str) -> str:
    """Why a PIN is one of those that everybody tries first; nothing when it is not.

    >>> why_trivial("0000"), why_trivial("3456"), why_trivial("4071")
    ('it is one figure over and over', 'its figures stand in a row', '')
    """
    steps = {(int(after) - int(before)) % 10 for before, after in pairwise(pin)}
    if steps == {0}:
        return "it is one figure over and over"
    if steps in ({1}, {9}):
        return "its figures stand in a row"
    if any(
        len(pin) % size == 0 and pin[:size] * (len(pin) // size) == pin
        for size in range(2, len(pin) // 2 + 1)
    ):
        return "it is a few figures twice"
    if len(pin) % 2 == 0 and all(pin[at] == pin[at + 1] for at in range(0, len(pin), 2)):
        return "it is made of pairs"
    if len(pin) == 4 and pin[:2] in ("19", "20"):
        return "it is a year"
    return "it is one that everybody tries first" if pin in COMMON else ""
