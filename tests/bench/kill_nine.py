"""Kill a writer with -9, again and again, and show that no acknowledged reading is lost.

Run by hand: `python tests/bench/kill_nine.py [TIMES] [--seed N]`, 50 times unless told; the suite runs five.
Each round a child process writes readings as fast as it can and acknowledges each one on a pipe
after its transaction has committed. It is killed at a random moment. Then the file must be whole, every acknowledged
reading must be in it, and at most one more: the one that was written and not yet acknowledged.

What it cannot show: the loss of power. A killed process's writes are in the system's hands already; that they
reach the disk is what `synchronous` asks of the system, and only pulling the plug tries that.
"""

import argparse
import os
import random
import signal
import sys
import tempfile
import time
import uuid
from dataclasses import dataclass
from pathlib import Path

BASE = Path(__file__).resolve().parents[2]
LINE = 33  # a reading's id in hexadecimal, and the end of the line


@dataclass
class Tally:
    """What all the rounds came to."""

    rounds: int = 0
    acknowledged: int = 0
    unacknowledged: int = 0
    lost: int = 0
    damaged: int = 0

    @property
    def nothing_lost(self) -> bool:
        """Whether every promise was kept."""
        return self.lost == 0 and self.damaged == 0 and self.acknowledged > 0


def write_for_ever(pipe: int, build_id: int, person_id: int) -> None:
    """Write readings and acknowledge each, until somebody ends this process."""
    from builds.models import Reading

    while True:
        reading_id = uuid.uuid4()
        Reading.objects.create(
            client_id=reading_id, build_id=build_id, position="1E", characteristic="gap", text="0.024", unit="in",
            value="0.024", taken_by_id=person_id,
        )  # fmt: skip
        os.write(pipe, f"{reading_id.hex}\n".encode())


def acknowledged_before_death(build_id: int, person_id: int, lives_for: float) -> list[str]:
    """Start a writer, kill it after so many seconds, and return what it had acknowledged."""
    readable, writable = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(readable)
        try:
            write_for_ever(writable, build_id, person_id)
        finally:
            os._exit(1)  # a writer that fails by itself must not go on as a second parent
    os.close(writable)
    with open(readable, "rb") as pipe:
        said = pipe.read(LINE)
        time.sleep(lives_for)
        os.kill(child, signal.SIGKILL)
        # What it said before it died still stands in the pipe. A pipe holds 64 kB, some 1,900 lines:
        # a writer that fills it waits, which costs the test speed and nothing else.
        said += pipe.read()
    _, status = os.waitpid(child, 0)
    if not os.WIFSIGNALED(status):
        raise RuntimeError("The writer ended by itself before it was killed.")
    return said.decode().split("\n")[:-1]


def kill_and_look(times: int, build_id: int, person_id: int, chance: random.Random) -> Tally:
    """Do so many rounds on the book that Django is set up for, and count."""
    from django.db import connection

    from builds.models import Reading

    tally = Tally()
    for _ in range(times):
        before = Reading.objects.count()
        # A child must not inherit an open connection: SQLite's locks belong to a process.
        connection.close()
        acknowledged = acknowledged_before_death(build_id, person_id, chance.uniform(0.0, 0.12))
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA integrity_check")
            whole = cursor.fetchall() == [("ok",)]
            found = {
                row[0]
                for row in cursor.execute("SELECT client_id FROM builds_reading WHERE id > %s", [before])
            }
        missing = [reading_id for reading_id in acknowledged if reading_id not in found]
        tally.rounds += 1
        tally.acknowledged += len(acknowledged)
        tally.unacknowledged += len(found) - len(acknowledged) + len(missing)
        tally.lost += len(missing)
        tally.damaged += not whole
    return tally


def main() -> int:
    """Make a book in a folder that goes away, kill its writers, and say what it came to."""
    parser = argparse.ArgumentParser(description="Kill a writer with -9 and count what is lost.")
    parser.add_argument("times", nargs="?", type=int, default=50)
    parser.add_argument("--seed", type=int, default=None, help="repeat the same moments of death")
    options = parser.parse_args()
    sys.path.insert(0, str(BASE))
    with tempfile.TemporaryDirectory() as folder:
        os.environ["STANDBOOK_DATA"] = folder
        os.environ["DJANGO_SETTINGS_MODULE"] = "builds.settings"
        import django

        django.setup()
        from django.core.management import call_command

        call_command("migrate", verbosity=0)
        from builds.models import Build, Customer, Engine, Person

        person = Person.objects.create_user("nora", name="Nora Vesterlund")
        engine = Engine.objects.create(customer=Customer.objects.create(name="Ketil Brandvold"), name="V8")
        build = Build.objects.create(job_number="26-014", engine=engine)
        tally = kill_and_look(options.times, build.pk, person.pk, random.Random(options.seed))
        from django.db import connection

        connection.close()
    print(
        f"{tally.rounds} kills: {tally.acknowledged} readings acknowledged, {tally.lost} of them lost; "
        f"{tally.unacknowledged} written and not yet acknowledged; {tally.damaged} times the file was damaged."
    )
    return 0 if tally.nothing_lost else 1


if __name__ == "__main__":
    sys.exit(main())
