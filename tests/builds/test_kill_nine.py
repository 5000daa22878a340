"""A killed program loses nothing that it said was saved. Five times here; the script does it as often as asked."""

import subprocess
import sys
from pathlib import Path

BASE = Path(__file__).resolve().parent.parent.parent


def test_no_acknowledged_reading_is_lost_when_the_writer_is_killed() -> None:
    ran = subprocess.run(
        [sys.executable, BASE / "tests/bench/kill_nine.py", "5", "--seed", "14"],
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert ran.stdout.startswith("5 kills: ")
    assert " 0 of them lost;" in ran.stdout
