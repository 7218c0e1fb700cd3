"""The server: this machine only, a few threads, small requests."""
from __future__ import annotations

import logging
import os
import socket
from typing import Any

from waitress.server import create_server

from companion.office.page.desk import Desk
from companion.office.page.guard import MOST_BYTES
from companion.office.page.site import site

ADDRESS = "127.0.0.1"
"""Loopback: nobody else on the network can reach it."""
THREADS = 6


def listening(desk: Desk, port: int) -> Any:
    """A server over a desk that has been looked at, on a port of this machine (0: a free one); `run` serves. Raises
    OSError."""
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)  # that a page waits a moment is nobody's business
    door = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        if os.name != "nt":  # where it would let another program take the port
            door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        door.bind((ADDRESS, port))
        return create_server(site(desk, door.getsockname()[1]), sockets=[door], threads=THREADS, ident="",
                             max_request_body_size=MOST_BYTES, max_request_header_size=MOST_BYTES // 4)
    except BaseException:
        door.close()
        raise
