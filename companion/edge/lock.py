"""One log, one program: an advisory lock on an open file. The system lets it go however the program ends."""
from __future__ import annotations

import errno
import os

from companion.errors import BadInput, BrokenMachine

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None
    import msvcrt

_FAR = 2**31 - 2
"""Where the lock lies on Windows, which locks bytes against everybody's reading: beyond any log."""


class Held(BadInput):
    """Another program holds the file; later it may not."""


def lock(fd: int, where: str) -> None:
    """Take the lock of the open file `fd`, or raise Held (a BadInput) at once where another program holds it."""
    try:
        if fcntl is not None:
            fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
        else:
            os.lseek(fd, _FAR, os.SEEK_SET)
            msvcrt.locking(fd, msvcrt.LK_NBLCK, 1)
    except OSError as error:
        if error.errno in (errno.EWOULDBLOCK, errno.EAGAIN, errno.EACCES, errno.EDEADLK):
            raise Held(where, "another companion holds this log", do="End it there first") from None
        raise BrokenMachine(where, "must lie on a disk that can lock files", error.strerror or str(error)) from None
