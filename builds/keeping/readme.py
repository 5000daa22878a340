"""The words that lie in every backup, for whoever finds it, years later and without this book at hand."""

from builds.keeping.manifest import Manifest

TEXT = """\
Backup of a Standbook: the job files of an engine shop
======================================================

Shop:      {shop}
Made:      {made_at:%d %b %Y %H:%M} UTC, by Standbook {standbook}
In it:     the database; the photos as they were taken in: {photos}
Newest sealed sheet: {sheet}

TO PUT IT BACK

1. On the machine that is to keep the book, get Standbook of this version or a newer one.
2. Copy this whole folder to that machine, or leave it on its stick.
3. In Standbook's folder, type (in place of FOLDER, where this file lies):

       python3 manage.py restore FOLDER

   It looks at every file first, and writes nothing when one of them is not what was kept. It never writes over a
   book: in place of another, name an empty folder, STANDBOOK_DATA=/path/to/empty/folder before the command.
4. python3 manage.py serve

Everybody logs in anew, with the name and password of before. The small pictures of the photos are made again when
somebody looks at them.

TO SEE THAT NOTHING WAS CHANGED, without Standbook, in this folder:

       sha256sum -c manifest.sha256

manifest.json names every file, and what the database held. Keep the digest of the newest sealed sheet somewhere else
as well: it shows whether any sealed sheet was changed later.

WHAT IS NOT IN IT

The passphrase that opens the shop's signing keys (the file signing-passphrase in the folder of the book, or what
STANDBOOK_SIGNING_PASSPHRASE says). The keys are in here, locked: with the passphrase beside them, whoever finds this
folder could sign in the shop's name. Keep it on paper, where you keep the shop's papers. Without it every sealed sheet
can still be read and checked, but no new one can be sealed.

KEEP IT WHERE STRANGERS DO NOT READ IT: your customers are in it.
"""


def written(manifest: Manifest, photos: int) -> bytes:
    """README.txt of a backup."""
    sheet = manifest.newest_sheet
    return TEXT.format(
        shop=manifest.shop or "(no name)", made_at=manifest.made_at, standbook=manifest.standbook,
        photos=photos or "none",
        sheet=f"{sheet.number}, SHA-256 {sheet.digest}" if sheet else "none",
    ).encode()  # fmt: skip
