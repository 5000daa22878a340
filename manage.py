#!/usr/bin/env python3
"""Standbook's one command: `python3 manage.py demo`, `serve`, `test`, `health`, `backup`, `restore`, or any of Django's.

Needs nothing but Python: the first start makes `.venv` beside this file and installs what
requirements.txt names. Written so that an old Python can read it and say that it is too old.
"""

import os
import sys


def main():
    """Stand the environment up, step into it, and run the command."""
    if sys.version_info < (3, 11):  # noqa: UP036 — requirements.txt is only read after this
        sys.stderr.write(
            "Standbook needs Python 3.11 or newer; this is Python %d.%d. Start it with a newer one: "  # noqa: UP031
            "python3.11 manage.py demo\n" % sys.version_info[:2]
        )
        return 1
    from builds import setting_up  # its grammar is newer than the check above

    return setting_up.start(os.path.dirname(os.path.abspath(__file__)), sys.argv)


if __name__ == "__main__":
    sys.exit(main())
