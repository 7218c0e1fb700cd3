"""Messages to whoever is to be told about a lone mechanic: contacts read from a file, sent by `apprise` where it is there.

The contacts' addresses may hold passwords: they stay in their file and are never printed, spoken or logged.
"""
from __future__ import annotations

import logging
import sys
import threading
import time
from collections import deque
from pathlib import Path
from typing import Callable, Protocol, Sequence

from companion.core.job.effects import Effect, Message
from companion.core.job.inputs import MessageDone
from companion.edge.mouth import Mouth
from companion.errors import BadInput

AGAIN_S = (15.0, 30.0, 60.0)
"""Seconds between two attempts; the last one is used for all that follow."""
TRIES = {"help": 240, "all clear": 60}
"""Attempts at each kind of message: for help four hours long. Others get three."""
LAST_S = 15.0
"""So long at the end of a job what is still to be sent is waited for."""
TITLE = "Job companion"


class Contact(Protocol):
    def send(self, text: str) -> bool:
        """Whether it was taken for sending. Must not raise."""


class _Carried:
    """One address, sent to by apprise."""

    def __init__(self, server) -> None:
        self._server = server

    def send(self, text: str) -> bool:
        """See `Contact`."""
        try:
            return bool(self._server.notify(body=text, title=TITLE))
        except Exception:  # a part from outside: whatever it raises, the message was not sent
            return False


def read_contacts(path: Path) -> tuple[Contact, ...]:
    """The contacts in a file, one address of `apprise` a line; lines that begin with # are passed over.

    Raises BadInput for a file that cannot be read, an address that apprise does not know, or where apprise is missing.
    """
    try:
        lines = path.read_text(encoding="utf-8").splitlines()
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or "it holds other bytes than text"
        raise BadInput(str(path), f"must be a text file of contacts, but cannot be read: {why}") from None
    told = [(number, line.strip()) for number, line in enumerate(lines, start=1) if line.strip() and line.strip()[0] != "#"]
    return tuple(_contact(path, number, address) for number, address in told)


def _contact(path: Path, number: int, address: str) -> Contact:
    try:
        import apprise
    except ImportError:
        raise BadInput(str(path), "needs the package apprise, which sends the messages",
                       do=f'Install it: "{sys.executable}" -m pip install apprise') from None
    logging.getLogger("apprise").addHandler(logging.NullHandler())  # else it prints addresses
    logging.getLogger("apprise").propagate = False
    server = apprise.Apprise.instantiate(address)
    if server is None:
        raise BadInput(f"{path}:{number}", "must be an address that apprise knows",
                       do="Its documentation lists them; the address is not shown here, for it may hold a password")
    return _Carried(server)


class _Delivery:
    """One message on its way to every contact. `done` hears once that some could not be reached at first, and once that all
    have it."""

    def __init__(self, message: Message, contacts: int, done: Callable[[MessageDone], None]) -> None:
        self.message, self._contacts, self._done = message, contacts, done
        self._lock, self._tried, self._unreached, self._taken = threading.Lock(), 0, 0, 0

    def first(self, taken: bool) -> None:
        """A contact's first attempt is over."""
        with self._lock:
            self._tried, self._unreached = self._tried + 1, self._unreached + (not taken)
            some = self._tried == self._contacts and self._unreached
        if some:
            why = f"{self._unreached} of {self._contacts} could not be reached"
            self._done(MessageDone(self.message.kind, False, why, self._unreached))

    def taken(self) -> None:
        """A contact's carrier has it."""
        with self._lock:
            self._taken += 1
            everybody = self._taken == self._contacts
        if everybody:
            self._done(MessageDone(self.message.kind, True))


class _Line:
    """The messages to one contact, in order, on a thread of its own: nobody waits for a contact who cannot be reached."""

    def __init__(self, contact: Contact, again_s: Sequence[float]) -> None:
        self._contact, self._again_s = contact, again_s
        self._waiting: deque[_Delivery] = deque()
        self._change, self._busy, self._open = threading.Condition(), False, True
        self._thread = threading.Thread(target=self._run, name="calls", daemon=True)

    def send(self, delivery: _Delivery) -> None:
        """Leaves word for the thread, and returns at once."""
        with self._change:
            self._waiting.append(delivery)
            self._change.notify_all()
            if self._thread.ident is None:
                self._thread.start()

    def close(self, wait_s: float) -> bool:
        """Waits so long for what is still to be sent; whether all was."""
        with self._change:
            sent = self._change.wait_for(lambda: not self._waiting and not self._busy, wait_s)
            self._open = False
            self._change.notify_all()
        return sent

    def _run(self) -> None:
        while True:
            with self._change:
                self._change.wait_for(lambda: self._waiting or not self._open)
                if not self._open or not self._waiting:
                    return
                delivery, self._busy = self._waiting.popleft(), True
            self._see_through(delivery)
            with self._change:
                self._busy = False
                self._change.notify_all()

    def _see_through(self, delivery: _Delivery) -> None:
        """Until it is taken, or tried out, or another message takes its place."""
        kind = delivery.message.kind
        for attempt in range(TRIES.get(kind, 3)):
            taken = self._contact.send(delivery.message.text)
            if not attempt:
                delivery.first(taken)
            if taken:
                return delivery.taken()
            if self._given_up(kind, self._again_s[min(attempt, len(self._again_s) - 1)]):
                return

    def _given_up(self, kind: str, seconds: float) -> bool:
        """Waits before the next attempt; True where there is to be none: an all-clear takes the place of a call for help,
        and a call for help waits behind nothing."""
        over = "all clear" if kind == "help" else "help"
        with self._change:
            return self._change.wait_for(
                lambda: not self._open or any(later.message.kind == over for later in self._waiting), seconds)


class Calls:
    """Sends messages to every contact, and tries again where one cannot be reached. `done` is told as `_Delivery` says."""

    def __init__(self, contacts: Sequence[Contact], done: Callable[[MessageDone], None],
                 again_s: Sequence[float] = AGAIN_S) -> None:
        self._lines, self._done = tuple(_Line(contact, again_s) for contact in contacts), done

    def send(self, message: Message) -> None:
        """Leaves word for the threads, and returns at once."""
        delivery = _Delivery(message, len(self._lines), self._done)
        for line in self._lines:
            line.send(delivery)

    def close(self, wait_s: float = LAST_S) -> bool:
        """Waits a little, for all of them together, for what is still to be sent; whether all was."""
        until = time.monotonic() + wait_s
        return all([line.close(max(0.0, until - time.monotonic())) for line in self._lines])


class CallingMouth:
    """A mouth beside which messages are sent."""

    def __init__(self, mouth: Mouth, calls: Calls) -> None:
        self._mouth, self._calls = mouth, calls

    def prepare(self, effects: tuple[Effect, ...]) -> None:
        """See `Mouth`."""
        self._mouth.prepare(effects)

    def carry_out(self, effect: Effect) -> None:
        """See `Mouth`; a message goes its own way."""
        if isinstance(effect, Message):
            self._calls.send(effect)
        else:
            self._mouth.carry_out(effect)

    def close(self) -> None:
        """See `Mouth`."""
        self._mouth.close()
