"""A seal for the tests to print: invented people, figures that stay the same."""

from builds.sealing.kinds import SealMarks, Signed
from builds.sealing.marks import CODE, code_drawing, strokes_drawing
from tests.builds.a_sheet import STROKES

PAGE = "http://shop.example/sheets/12/"
ACCEPTED = {
    "words": "3E, stand height",
    "value": "0.025 in low (0.635 mm): out",
    "reason": "Customer runs it so until the new stands come",
    "by": "Ylva Norrgard",
    "at": "02 Mar 2026 11:58 UTC",
}


def a_seal(*, revises: int | None = None, accepted: tuple[dict[str, str], ...] = (ACCEPTED,)) -> SealMarks:
    """The marks of sheet 12; with `revises`, of a revision of that one."""
    drawn = strokes_drawing(STROKES)
    return SealMarks(
        number=12,
        revision=0 if revises is None else 1,
        reason="" if revises is None else "3E read again with the other gauge",
        revises=revises,
        digest="ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
        previous_digest="cb8379ac2098aa165029e3938a51da0bcecfc008fd6795f401178647f96c5b34",
        sealed_at="02 Mar 2026 12:05 UTC",
        page=PAGE,
        signatures=(
            _signed("measured", "Nora Vesterlund", "Nora Vesterlund", "I measured this.", "12:00"),
            _signed("checked", "Ylva Norrgard", "Y. Norrgard", "I checked this.", "12:05"),
        ),
        accepted=accepted,
        drawings={"seal-measured": drawn, "seal-checked": drawn, CODE: code_drawing(PAGE)},
    )  # fmt: skip


def _signed(role: str, name: str, typed: str, meaning: str, at: str) -> Signed:
    return Signed(role, name, typed, meaning, f"02 Mar 2026 {at} UTC", f"seal-{role}")
