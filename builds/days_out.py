"""The days on which an engine left and came back, beside what the book says of the time in between."""

from datetime import date

from builds.models import Build, BuildKind
from builds.running import record_of


def why_not_back(job: Build, day: date) -> str:
    """Why an engine cannot have come back on a day: it ran, or was checked, after that; nothing when it can."""
    ran = record_of(job).lines
    if ran and day < ran[-1].entry.ran_on:
        return (
            f"Its running record says that it ran on {ran[-1].entry.ran_on:%d %b %Y}. Use that day or a later one, or "
            "correct that entry."
        )
    check = job.looks.filter(kind=BuildKind.CHECK).order_by("-opened_on", "-pk").first()
    if check is not None and day < check.opened_on:
        return f"{check} was read on {check.opened_on:%d %b %Y}, before it came back. Use that day or a later one."
    return ""


def refused_days(job: Build, went_out_on: date | None, came_back_on: date | None) -> dict[str, str]:
    """Which of two days leaves out running, a check or a return that is in the book, and why, by field."""
    wrong: dict[str, str] = {}
    ran = record_of(job).lines
    looks = list(job.looks.order_by("opened_on", "pk"))
    began = min(
        [*(line.entry.ran_on for line in ran[:1]), *(look.opened_on for look in looks[:1])], default=None
    )
    if went_out_on is None and began is not None:
        wrong["went_out_on"] = (
            f"Since it went out, {'running' if ran else 'a check or a return'} is written down from {began:%d %b %Y} on, "
            "so it did go out. Keep the day, and open a new job to work on the engine."
        )
    elif went_out_on is not None and began is not None and went_out_on > began:
        wrong["went_out_on"] = (
            f"It had run or been checked by {began:%d %b %Y} already, as its running record says. Use that day or one "
            "before."
        )
    came = next((look for look in looks if look.is_return), None)
    if came is not None and came_back_on != came.opened_on:
        wrong["came_back_on"] = (
            f"Job {came} reads it as found, and says that it came back on {came.opened_on:%d %b %Y}. Change the day "
            "there: it holds for both jobs."
        )
    elif came_back_on is not None and (sentence := why_not_back(job, came_back_on)):
        wrong["came_back_on"] = sentence
    return wrong
