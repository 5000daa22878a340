"""When the night's work is due: by the clock on the wall, through summer time, and with a clock that is set back."""

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.conf import settings

from builds.keeping import nights
from builds.keeping.files import KeepingRefused
from builds.keeping.nightly import SETTLED, is_due, slot

CHICAGO = ZoneInfo("America/Chicago")
AT = time(3, 30)
NIGHT = datetime(2026, 11, 25, 3, 30, tzinfo=UTC)
LOOK = timedelta(seconds=30)
LONG_UP = 100_000.0


def hours(count: float) -> timedelta:
    return timedelta(hours=count)


@pytest.mark.parametrize(
    ("since", "last", "up", "due"),
    [
        # hand-worked: hours from half past three; the look before was 30 s earlier
        (0.0, -24.0, LONG_UP, True),
        (0.005, -24.0, LONG_UP, True),  # 18 s past it, the look before was short of it
        (-0.01, -24.0, LONG_UP, False),
        (0.01, -24.0, LONG_UP, False),  # seen by the look before
        (0.0, -24.0, 5.0, True),  # the book was up at half past three, however short
        (4.5, -24.0, LONG_UP, False),  # the server was off then; 28.5 hours ago
        (6.01, -24.0, LONG_UP, True),  # more than 30 hours ago
        (6.01, -24.0, SETTLED - 1, False),
        (6.01, -24.0, SETTLED, True),
        (0.0, -48.0, 5.0, False),  # missed, so only once the book has settled
        (0.0, None, SETTLED - 1, False),
        (0.0, None, SETTLED, True),
        (0.0, -11.9, LONG_UP, False),  # made up for yesterday afternoon: not twice
        (0.0, 1.0, LONG_UP, False),  # the clock was set back over it
        (0.0, 20.0, LONG_UP, True),  # set back by most of a day
        (9.0, 40.0, LONG_UP, True),  # set back by days: what the future says is worth nothing
    ],
)
def test_due_or_not(since: float, last: float | None, up: float, due: bool) -> None:
    now = NIGHT + hours(since)
    done = None if last is None else NIGHT + hours(last)
    assert is_due(now, now - LOOK, done, up, AT, UTC) is due


def test_a_machine_that_slept_through_it_does_it_when_it_wakes() -> None:
    now = NIGHT + hours(5)
    assert is_due(now, NIGHT - hours(8), NIGHT - hours(24), LONG_UP, AT, UTC)


def test_a_clock_set_back_since_the_last_look_sets_nothing_off() -> None:
    assert not is_due(NIGHT, NIGHT + hours(2), NIGHT - hours(24), LONG_UP, AT, UTC)


def looks(day: datetime, at: time, nights_long: int = 3) -> list[str]:
    """Look every 30 s through some days; when the work was done, by the clock on the wall."""
    now, last, found = day, day - hours(2.5), []
    while now < day + timedelta(days=nights_long):
        if is_due(now, now - LOOK, last, LONG_UP, at, CHICAGO):
            last = now
            found.append(f"{now.astimezone(CHICAGO):%d %H:%M %Z}")
        now += LOOK
    return found


@pytest.mark.parametrize(
    ("day", "at", "done"),
    [
        # published: in the United States summer time is from 8 March to 1 November 2026, at 2:00 (15 U.S.C. 260a)
        ((2026, 3, 7, 12), time(3, 30), ["08 03:30 CDT", "09 03:30 CDT", "10 03:30 CDT"]),
        ((2026, 3, 7, 12), time(2, 30), ["08 03:30 CDT", "09 02:30 CDT", "10 02:30 CDT"]),
        ((2026, 10, 31, 12), time(1, 30), ["01 01:30 CDT", "02 01:30 CST", "03 01:30 CST"]),
        ((2026, 10, 31, 12), time(3, 30), ["01 03:30 CST", "02 03:30 CST", "03 03:30 CST"]),
    ],
)
def test_once_a_night_also_when_the_clocks_change(
    day: tuple[int, int, int, int], at: time, done: list[str]
) -> None:
    assert looks(datetime(*day, tzinfo=UTC), at) == done


def test_the_last_time_that_the_wall_showed_it() -> None:
    assert slot(NIGHT - LOOK, AT, UTC) == NIGHT - hours(24)
    assert slot(NIGHT, AT, UTC) == NIGHT
    assert slot(datetime(2026, 7, 1, 8, 29, tzinfo=UTC), AT, CHICAGO) == datetime(
        2026, 6, 30, 8, 30, tzinfo=UTC
    )
    assert slot(datetime(2026, 7, 1, 8, 30, tzinfo=UTC), AT, CHICAGO) == datetime(
        2026, 7, 1, 8, 30, tzinfo=UTC
    )


@pytest.mark.parametrize(
    ("text", "at"),
    [
        ("03:30", AT),
        (" 3:30 ", AT),
        ("23:59", time(23, 59)),
        ("00:00", time(0, 0)),
        ("off", None),
        ("OFF", None),
    ],
)
def test_the_setting_is_read(text: str, at: time | None, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(settings, "NIGHTLY", text)
    assert nights.hour() == at


@pytest.mark.parametrize(
    "text", ["", "3", "24:00", "3:7", "half past three", "03:30:00", "٠٣:٣٠", "-1:00", "no"]
)
def test_a_setting_that_is_no_time_gets_a_sentence(text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(settings, "NIGHTLY", text)
    with pytest.raises(KeepingRefused, match=r"Write a time of the day such as 03:30, or off\."):
        nights.hour()
    assert nights.look().wrong
    assert nights.troubles() == []
