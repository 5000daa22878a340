"""Messages between the press and its child: a length, then that many bytes."""

import struct
from typing import IO

_LENGTH = struct.Struct(">I")


class Hangup(Exception):
    """The other side closed the pipe."""


def send(pipe: IO[bytes], message: bytes) -> None:
    """Write one message."""
    pipe.write(_LENGTH.pack(len(message)) + message)
    pipe.flush()


def receive(pipe: IO[bytes]) -> bytes:
    """Read one message; raises `Hangup` when the other side is gone."""
    (length,) = _LENGTH.unpack(_exactly(pipe, _LENGTH.size))
    return _exactly(pipe, length)


def _exactly(pipe: IO[bytes], count: int) -> bytes:
    found = pipe.read(count)
    if found is None or len(found) < count:
        raise Hangup
    return found
