"""What every sheet says of how it stands: the title block at its foot, and its seal where it has one."""

from typing import Any

from builds.printing.paper import Cell, Paper
from builds.sealing.canonical import digest_words
from builds.sealing.kinds import SealMarks
from builds.sealing.marks import seal_style


def foot(
    shop: str,
    job: str,
    about: tuple[str, str],
    sheet: str,
    unit_name: str,
    *,
    printed: str,
    draft: bool,
    seal: SealMarks | None,
) -> tuple[Cell, ...]:
    """The title block of a sheet: `about` is what it shows, as a name and its words; `sheet` what it is called."""
    if seal is not None:
        stands = Cell(f"{sheet}, sealed", f"{seal.number} revision {seal.revision}", 1.3, heavy=True)
        when = Cell("sealed", seal.sealed_at.rsplit(" ", 1)[0], 1.3)
    else:
        stands = (
            Cell(f"{sheet}, not signed", "DRAFT", 1.3, heavy=True) if draft else Cell("sheet", sheet, 1.3)
        )
        when = Cell("printed", printed or "–", 1.3)
    return (
        Cell("shop", shop, 1.7), Cell("job", job, 1.0, heavy=True), Cell(*about, 1.2), stands,
        Cell("lengths in", unit_name, 0.9), when, Cell("page", "", 0.6),
    )  # fmt: skip


def seal_context(seal: SealMarks | None, paper: Paper) -> dict[str, Any]:
    """What a page needs to show its seal; nothing where it has none."""
    if seal is None:
        return {"seal": None}
    return {"seal": seal, "seal_words": digest_words(seal.digest), "seal_style": seal_style(seal, paper)}
