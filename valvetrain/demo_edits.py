"""What the invented shop's people changed since: a few edits, so that the history of a job has something to tell.

None of them touches a figure that anything is judged by.
"""

from builds.models import Build, Limit, Person
from builds.tracking import written_by
from valvetrain.models import SpringSheet


def edit_a_little(jobs: dict[str, Build], people: dict[str, Person]) -> None:
    """Change a part's numbers, a spring sheet's name, a job's words and a limit's source, each by who would."""
    puller = jobs["puller"]
    with written_by(people["joss"]):
        sheet = SpringSheet.objects.get(build=puller)
        sheet.name = "Dual springs, as on the box"
        sheet.save(update_fields=["name"])
        part = puller.parts.order_by("pk")[0]
        part.serial = "17 to 32"
        part.save(update_fields=["serial"])
    with written_by(people["runa"]):
        puller.note = f"{puller.note}\nAsked for both heads on the same day.".strip()
        puller.save(update_fields=["note"])
        limit = Limit.objects.get(build=None, key="stand_height")
        limit.source = f"{limit.source}; looked at again this season"
        limit.save(update_fields=["source"])
