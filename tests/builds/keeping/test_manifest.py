"""The manifest is read by the letter: whatever stands in it that a backup does not write is refused in words."""

import json
from collections.abc import Iterator
from contextlib import suppress
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest

from builds.keeping import manifest as form
from builds.keeping.files import KeepingRefused
from tests.builds.keeping import scene

Plain = dict[str, Any]


@pytest.fixture(scope="module")
def plain(written_backup: Path) -> Plain:
    """The manifest of a backup as plain data."""
    data: Plain = json.loads((written_backup / form.NAME).read_bytes())
    data["faults"] = [{"what": "missing", "name": "ab/c.jpg", "label": "Photo c of job 26-014"}]
    return data


def written(plain: Any) -> bytes:
    """Plain data written as a backup writes it."""
    return (
        json.dumps(plain, indent=2, sort_keys=True, ensure_ascii=False).encode(errors="surrogatepass") + b"\n"
    )


def refusal(data: bytes) -> str:
    """The sentence with which a manifest is refused."""
    with pytest.raises(KeepingRefused) as told:
        form.read(data)
    assert str(told.value).endswith(".")
    return str(told.value)


def test_what_is_written_is_read_again_letter_by_letter(plain: Plain) -> None:
    assert form.read(written(plain)).written() == written(plain)
    assert form.read(written(plain)).faults[0].sentence == (
        "Photo c of job 26-014 cannot be read from the book's folder of photos (ab/c.jpg)."
    )


def places(plain: Any, way: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The way to every value in plain data."""
    yield way
    if isinstance(plain, dict | list):
        for key in plain if isinstance(plain, dict) else range(len(plain)):
            yield from places(plain[key], (*way, key))


def with_other(plain: Plain, way: tuple[Any, ...], value: Any) -> Any:
    """A copy with another value at one place."""
    if not way:
        return value
    copy = deepcopy(plain)
    inner: Any = copy
    for key in way[:-1]:
        inner = inner[key]
    inner[way[-1]] = value
    return copy


def test_whatever_stands_in_any_place_it_is_read_or_refused_in_words(plain: Plain) -> None:
    """Every value of the manifest in turn, with each of these in its place: no other exception, nothing made of it."""
    odd = [None, True, 0, -1, 1.5, 2**70, "", "x", "../x", "\ud800", "9" * 5000, [], [1], {}, {"x": 1}]
    count = read = 0
    for way in list(places(plain)):
        for value in odd:
            data = written(with_other(plain, way, value))
            with suppress(KeepingRefused):
                read += form.read(data).written() == data
            count += 1
    assert count > 1000
    assert 0 < read < count


def test_a_name_that_is_lacking_or_too_many_is_refused(plain: Plain) -> None:
    for name in plain:
        assert f"“{name}” is lacking" in refusal(written({k: v for k, v in plain.items() if k != name}))
    assert "not written as a backup writes it" in refusal(written({**plain, "more": 1}))


def test_cut_off_anywhere_it_is_refused(plain: Plain) -> None:
    data = written(plain)
    for length in range(0, len(data) - 1, 7):
        assert "cut off or written over" in refusal(data[:length])
    assert "not written as a backup writes it" in refusal(data[:-1])


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\0" * 100,
        b"\xff\xfe{}",
        b"[" * 100_000,
        b'{"a": ' * 50_000,
        b"<html>",
        b"{} {}",
        b'"' + b"9" * 10_000,
    ],
)
def test_what_is_no_json_is_refused(data: bytes) -> None:
    assert "cannot be read" in refusal(data)


@pytest.mark.parametrize("data", [b"[]", b"1", b"null", b'"x"', b"[{}]"])
def test_json_of_another_shape_is_refused(data: bytes) -> None:
    assert "it is no list of names and values" in refusal(data)


def test_a_name_twice_is_refused(plain: Plain) -> None:
    assert "a name stands in it twice" in refusal(written(plain).replace(b"{\n", b'{\n  "shop": "x",\n', 1))


def test_a_number_that_is_none_is_refused(plain: Plain) -> None:
    assert "NaN stands in it" in refusal(written(with_other(plain, ("files", 0, "size"), float("nan"))))


@pytest.mark.parametrize(
    "name",
    [
        "../database.sqlite3", "photos/../../x.jpg", "/etc/passwd", "photos//x.jpg", "photos/./x.jpg", "photos/..",
        "photos\\x.jpg", "C:\\x.jpg", "C:x.jpg", "photos/x.jpg\n", "photos/x\0.jpg", "photos/.hidden.jpg", "~/x.jpg",
        "photos/" + "x" * 400, "photos/é.jpg", "", ".",
    ],
)  # fmt: skip
def test_a_name_that_leads_elsewhere_is_refused(plain: Plain, name: str) -> None:
    assert "is no name of a file inside a backup" in refusal(
        written(with_other(plain, ("files", 2, "path"), name))
    )


@pytest.mark.parametrize(
    "name", ["manage.py", "builds/settings.py", "signing-passphrase", "manifest.json", "photos"]
)
def test_a_file_that_is_no_part_of_a_backup_is_refused(plain: Plain, name: str) -> None:
    files = sorted(
        [*plain["files"], {"path": name, "size": 1, "sha256": "0" * 64}], key=lambda each: each["path"]
    )
    assert f"it names {name}, which is no part of a backup" in refusal(written({**plain, "files": files}))


@pytest.mark.parametrize("name", ["database.sqlite3", "README.txt"])
def test_a_backup_without_its_database_is_refused(plain: Plain, name: str) -> None:
    files = [each for each in plain["files"] if each["path"] != name]
    assert f"it does not name {name}" in refusal(written({**plain, "files": files}))


def test_a_file_named_twice_or_out_of_order_is_refused(plain: Plain) -> None:
    files = plain["files"]
    assert "once and in order" in refusal(written({**plain, "files": [files[0], *files]}))
    assert "once and in order" in refusal(written({**plain, "files": files[::-1]}))


@pytest.mark.parametrize(
    ("name", "value", "sentence"),
    [
        ("format", "a cake", "is not that of a Standbook backup"),
        ("version", 2, "written in form 2; this Standbook reads form 1. Use a newer Standbook"),
        ("database", "postgresql", "holds a postgresql database; only SQLite is supported so far"),
        ("made_at", "yesterday", "“made_at” is no date and time"),
        ("made_at", "2026-11-25T12:30:15", "does not say in which time zone"),
        ("made_at", "0001-01-01T00:00:00+14:00", "“made_at” is no date and time"),
        ("faults", [{"what": "lazy", "name": "", "label": ""}], "“lazy” is no kind of fault"),
        ("newest_sealed_sheet", {"number": 1, "digest": "0"}, "“newest_sealed_sheet.digest” is no SHA-256"),
    ],
)
def test_the_sentence_says_what_does_not_belong(plain: Plain, name: str, value: Any, sentence: str) -> None:
    assert sentence in refusal(written({**plain, name: value}))


def test_the_digests_are_those_of_sha256sum(written_backup: Path) -> None:
    lines = scene.told(written_backup).sums().decode().splitlines()
    found = scene.everything_in(written_backup)
    found.pop(form.SUMS)
    assert lines == [f"{digest}  {path}" for path, digest in sorted(found.items())]
