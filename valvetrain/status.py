"""The words for how a stand or a valve stands, how each is drawn, and which comes first."""

from enum import StrEnum


class Status(StrEnum):
    """How a stand or a valve stands. The value is also the class on the drawing."""

    WAIT = "wait"  # something is missing before it can be read
    READ = "read"  # no height is read yet
    SHIM = "shim"  # read without its pack: the pack is the next thing
    PROVE = "prove"  # the pack is fitted and not read again
    DONE = "done"
    UNDECIDED = "undecided"  # too near a limit to call, by the shop's guard-band rule
    LOOK = "look"  # in, but what it was judged by has changed since
    OUT = "out"


STATUS_WORDS = {
    Status.WAIT: "waits", Status.READ: "to read", Status.SHIM: "to shim", Status.PROVE: "to prove",
    Status.DONE: "in", Status.LOOK: "look again", Status.OUT: "out",
    Status.UNDECIDED: "undecided",
}  # fmt: skip
DRAWN_AS = {
    Status.WAIT: "todo", Status.READ: "todo", Status.SHIM: "todo", Status.PROVE: "todo",
    Status.DONE: "done", Status.LOOK: "look", Status.OUT: "out",
    Status.UNDECIDED: "look",
}  # fmt: skip
LEAST_FINISHED_FIRST = (
    Status.WAIT, Status.READ, Status.PROVE, Status.OUT, Status.SHIM, Status.UNDECIDED, Status.LOOK,
)  # fmt: skip
NEXT_FIRST = (
    Status.PROVE, Status.READ, Status.SHIM, Status.OUT, Status.UNDECIDED, Status.LOOK, Status.WAIT,
)  # fmt: skip
