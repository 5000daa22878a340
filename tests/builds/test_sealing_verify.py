"""Whatever is touched behind the book's back is found and named: every column, every row, readings, photos, the chain."""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.core.management import call_command
from django.db import connection, models, transaction

from builds import appendonly
from builds.models import (
    Acceptance,
    Authority,
    Build,
    Person,
    Photo,
    Reading,
    SealedSheet,
    Signature,
    SignerCertificate,
    Signing,
)  # fmt: skip
from builds.photos import storage
from builds.photos.filing import Filing
from builds.photos.intake import Sent, take_in
from builds.sealing import acceptance, authority
from builds.sealing.kinds import Readiness
from builds.sealing.standalone import Fault
from builds.sealing.verify import verify_book, verify_sheet
from tests.builds.a_sheet import NOON, OUT, read
from tests.builds.photo_files import gradient, picture
from tests.builds.sealing_scene import Scene, scene

__all__ = ["scene"]
# A row's own number says nothing, and nothing in the book refers to these.
OWN_NUMBERS = {(SealedSheet, "id"), (Signature, "id"), (Acceptance, "id"), (SignerCertificate, "id")}
WHERE = {
    SealedSheet: ("sheet 1: ", "sheet 8: number in the book is 8, was sealed as 1"), Signing: "sheet 1: ",
    Signature: "sheet 1: ", Acceptance: "sheet 1: ", Authority: ("root 1", "certificate 1"),
    SignerCertificate: ("certificate 1", "sheet 1: signature"), Reading: "job 2026-001", Photo: "job 2026-001",
}  # fmt: skip


@contextmanager
def triggers_lifted(*, undone: bool = True) -> Iterator[None]:
    """As somebody does who has the file and the will: no guard, no check."""
    with transaction.atomic():
        appendonly.remove()
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA ignore_check_constraints = ON")
        try:
            yield
        finally:
            with connection.cursor() as cursor:
                cursor.execute("PRAGMA ignore_check_constraints = OFF")
        if undone:
            transaction.set_rollback(True)
        else:
            appendonly.install()


def run(sql: str, *values: Any) -> None:
    """Straight into the database."""
    with connection.cursor() as cursor:
        cursor.execute(sql, values)


def said(faults: list[Fault]) -> str:
    """All of them, a line each."""
    return "\n".join(map(str, faults))


@pytest.fixture
def photo(scene: Scene) -> Photo:
    """A photo of the job."""
    taken, _new = take_in(
        scene.job, scene.tech, Sent(uuid4(), "mark.jpg", picture("jpeg"), Filing(position="", kind="other"))
    )
    return taken


@pytest.fixture
def sealed(scene: Scene, photo: Photo, owner: Person) -> SealedSheet:
    """A sheet over two readings and a photo, with something accepted."""
    scene.kind.readiness = Readiness(out=[OUT])
    acceptance.accept(scene.job, scene.checker, OUT, client_id=uuid4(), reason="as asked", accepted_at=NOON)
    return scene.seal()


def another(record: models.Model, field: "models.Field[Any, Any]", owner: Person, job: Build) -> Any:
    """Some other value for a column, of its own kind."""
    value = getattr(record, field.attname)
    if isinstance(field, models.ForeignKey):
        other = {Person: owner.pk, Build: job.pk}.get(field.related_model)
        return other if other is not None else (value or 0) + 1000
    if isinstance(field, models.BinaryField):
        return bytes(value[:-2]) + bytes([value[-2] ^ 1]) + bytes(value[-1:])
    if isinstance(field, models.UUIDField):
        return uuid4().hex
    if isinstance(field, models.DateTimeField):
        return (value + timedelta(seconds=1)).strftime("%Y-%m-%d %H:%M:%S.%f")
    if isinstance(field, models.JSONField):
        return json.dumps({"touched": 1})
    if isinstance(field, models.DecimalField):
        return "0.0250"
    if isinstance(field, models.CharField | models.TextField):
        return {"in": "mm", "A4": "Letter"}.get(value, f"x{value[1:]}")
    return (value or 0) + 7


def columns_of(model: type[models.Model]) -> list[Any]:
    """Every column but the numbers that say nothing."""
    return [field for field in model._meta.concrete_fields if (model, field.attname) not in OWN_NUMBERS]


@pytest.mark.parametrize("model", list(WHERE))
def test_every_column_of_what_is_sealed_is_watched(
    sealed: SealedSheet, owner: Person, model: type[models.Model]
) -> None:
    job = Build.objects.create(engine=sealed.signing.build.engine, job_number="2026-099")
    assert verify_book().faults == []
    not_found = []
    record = model.objects.order_by("pk").first()
    for field in columns_of(model):
        with triggers_lifted():
            value = another(record, field, owner, job)
            run(f'UPDATE "{model._meta.db_table}" SET "{field.column}" = %s WHERE id = %s', value, record.pk)
            faults = verify_book().faults
        if not any(str(fault).startswith(WHERE[model]) for fault in faults):
            not_found.append((field.attname, said(faults)))
    assert not_found == []
    assert verify_book().faults == []


def test_a_column_is_named_with_what_it_was(sealed: SealedSheet) -> None:
    with triggers_lifted():
        run("UPDATE builds_signature SET typed_name = 'Somebody Else' WHERE role = 'measured'")
        assert said(verify_book().faults) == (
            "sheet 1: signature “measured”: typed name in the book is Somebody Else, was sealed as Nora Vesterlund"
        )


def test_a_new_name_of_a_person_is_no_tampering(sealed: SealedSheet, scene: Scene) -> None:
    Person.objects.filter(pk=scene.tech.pk).update(name="Nora Vesterlund-Holm")
    assert verify_book().faults == []


def of(position: str) -> int:
    """The number of the reading at an address."""
    return Reading.objects.get(position=position).pk


def test_a_reading_that_was_edited_is_named(sealed: SealedSheet) -> None:
    with triggers_lifted():
        run("UPDATE builds_reading SET text = '0.021', value = '0.021' WHERE position = '1E'")
        assert [fault.what for fault in verify_book().faults] == [
            f"reading {of('1E')} (1E stand_gap 0.021) was changed after it was sealed over"
        ]
        assert len(verify_sheet(sealed)) == 1


def test_a_reading_that_was_deleted_or_slipped_in_is_named(sealed: SealedSheet, scene: Scene) -> None:
    number = of("1E")
    with triggers_lifted():
        run("DELETE FROM builds_reading WHERE position = '1E'")
        assert said(verify_book().faults) == f"job 2026-001: reading {number} is gone, though sealed over"
    with triggers_lifted():
        run("UPDATE builds_reading SET id = id + 10")
        assert f"reading {number} is gone" in said(verify_book().faults)
    read(scene.job, scene.tech, "0.0250")
    assert verify_book().faults == []


def test_a_photo_whose_file_was_swapped_is_named(
    sealed: SealedSheet, photo: Photo, photo_folder: Path
) -> None:
    path = photo_folder / photo.path
    kept = path.read_bytes()
    path.write_bytes(picture("jpeg", gradient(200, 150)))
    assert f"the file of photo {photo.pk} (mark.jpg) is not the one that was kept" in said(
        verify_book().faults
    )
    path.unlink()
    assert said(verify_book().faults) == f"job 2026-001: the file of photo {photo.pk} (mark.jpg) is gone"
    storage.put(photo.path, kept)
    assert verify_book().faults == []


@pytest.fixture
def chain(scene: Scene) -> list[SealedSheet]:
    """Three sheets: the head's, the engine's, and a revision of the head's."""
    hours = [NOON + timedelta(hours=count) for count in range(3)]
    return [
        scene.seal(subject="L", at=hours[0]),
        scene.seal(at=hours[1]),
        scene.seal(subject="L", at=hours[2], reason="lash checked hot"),
    ]


def forget(sheet: SealedSheet) -> None:
    """Delete a sheet with all that was signed under it."""
    run("DELETE FROM builds_sealedsheet WHERE id = %s", sheet.pk)
    run("DELETE FROM builds_signature WHERE signing_id = %s", sheet.signing_id)
    run("DELETE FROM builds_signing WHERE id = %s", sheet.signing_id)


def test_a_sheet_deleted_in_mid_chain_is_named(chain: list[SealedSheet]) -> None:
    assert verify_book().faults == []
    with triggers_lifted():
        forget(chain[1])
        assert said(verify_book().faults) == "sheet 2: it is missing: the chain has a gap here"


def test_a_gap_that_was_closed_up_is_named(chain: list[SealedSheet]) -> None:
    with triggers_lifted():
        forget(chain[1])
        run("UPDATE builds_sealedsheet SET number = 2 WHERE number = 3")
        told = said(verify_book().faults)
    assert "sheet 2: number in the book is 2, was sealed as 3" in told
    assert "sheet 2: it is missing" in told


def test_sheets_in_another_order_are_named(chain: list[SealedSheet]) -> None:
    with triggers_lifted():
        for number, other in ((1, 9), (2, 1), (9, 2)):
            run("UPDATE builds_sealedsheet SET number = %s WHERE number = %s", other, number)
        told = said(verify_book().faults)
    assert "sheet 1: number in the book is 1, was sealed as 2" in told
    assert "sheet 2: number in the book is 2, was sealed as 1" in told


def test_a_sheet_whose_row_alone_is_gone_leaves_its_signatures_behind(chain: list[SealedSheet]) -> None:
    with triggers_lifted():
        run("DELETE FROM builds_sealedsheet WHERE number = 3")
        assert "Ylva Norrgard sealed a test-sheet L on 02 Mar 2026; it is gone" in said(verify_book().faults)


def test_an_end_that_was_cut_off_is_found_by_an_old_pdf(chain: list[SealedSheet], tmp_path: Path) -> None:
    witness = tmp_path / "witness.pdf"
    witness.write_bytes(chain[2].pdf)
    assert verify_book([witness]).faults == []
    with triggers_lifted():
        forget(chain[2])
        assert verify_book().faults == []  # nothing inside the book can tell: that is what witnesses are for
        assert said(verify_book([witness]).faults) == (
            "witness.pdf: the chain ends at 2, but the witness is sheet 3: the end was cut off"
        )


def test_a_chain_made_anew_is_found_by_an_old_pdf(scene: Scene, tmp_path: Path) -> None:
    """The owner rewrites a reading and seals everything again, with the shop's own keys."""
    witness = tmp_path / "witness.pdf"
    witness.write_bytes(scene.seal().pdf)
    with triggers_lifted():
        for table in ("sealedsheet", "signature", "signing"):
            run(f"DELETE FROM builds_{table}")
        run("UPDATE builds_reading SET text = '0.021', value = '0.021' WHERE position = '1E'")
        scene.seal()
        assert verify_book().faults == []
        assert said(verify_book([witness]).faults) == (
            "sheet 1: sheet 1 is another one than the witness witness.pdf: the chain was made anew"
        )


def test_the_command_says_it_with_its_exit_code(
    sealed: SealedSheet, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    call_command("verify")
    told = capsys.readouterr().out
    assert "1 sealed sheets, 2 of 2 readings under seal, 1 photos." in told
    assert told.endswith("Everything matches.\n")
    with triggers_lifted():
        run("UPDATE builds_reading SET note = 'x' WHERE position = '1I'")
        with pytest.raises(SystemExit) as ended:
            call_command("verify", "--json")
    assert ended.value.code == 1
    assert json.loads(capsys.readouterr().out)["faults"] == [
        {
            "where": "job 2026-001",
            "what": f"reading {of('1I')} (1I stand_gap 0.0251) was changed after it was sealed over",
        }
    ]
    with pytest.raises(SystemExit) as ended:
        call_command("verify", "--witness", str(tmp_path / "none.pdf"))
    assert ended.value.code == 2


def test_without_the_passphrase_it_says_what_it_did_not_look_at(sealed: SealedSheet) -> None:
    authority.passphrase_file().unlink()
    report = verify_book()
    assert report.is_sound
    assert "The keys themselves were not looked at" in report.notes[0]


def test_what_is_put_up_and_was_touched_is_named(scene: Scene) -> None:
    signing = scene.put_up()
    with triggers_lifted():
        run("UPDATE builds_signing SET snapshot = %s WHERE id = %s", b"{}", signing.pk)
        assert "what was put up for signing as test-sheet" in said(verify_book().faults)
