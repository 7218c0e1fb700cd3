"""Opening the index together with what the office's own log says of its jobs."""
from __future__ import annotations

import sys
from pathlib import Path

from companion.office.place import OFFICE, lines_in
from companion.office.review.overlay import apply_register
from companion.office.review.query import Index
from companion.office.review.store import Store
from companion.office.review_log import Reviewed, reviewed
from companion.office.review_log.file import NAME, looked_at
from companion.office.review_log.seen import Memory
from companion.office.review_log.telling import warnings, whose_keys
from companion.office.trusted import trusted_in
from companion.terminal import clean


def open_index(logs: Store, apart: str = "") -> Index:
    """The index of a folder of logs, with the findings of missing logs, trusted keys, the register of cards and hold points.
    `apart`: see `indexing.update`."""
    return laid(logs, office_log(logs), apart)


def laid(logs: Store, office: Reviewed, apart: str = "") -> Index:
    """The same with an office's log that was read before."""
    index = Index.open(logs, apart)
    apply_register(index, office)
    return index


def office_log(logs: Store) -> Reviewed:
    """What the office's log says, by the list of trusted keys and beside what this machine had seen of it; nothing where
    there is none. What must be said of the log itself goes to standard error. Raises OSError, TrustErrors."""
    office = logs.within(OFFICE)
    said = reviewed(lines_in(office, NAME), f"{OFFICE}/{NAME}") if office.has(NAME) else Reviewed()
    memory = Memory(logs.address, Path(logs.address) if logs.local else None)
    found = looked_at(said.judged_by(trusted_in(office)), memory)
    for words in warnings(found):
        print(clean(f"companion: {words}"), file=sys.stderr)
    if whose_keys(found) and not found.trusted:
        print(f"companion: {whose_keys(found)}", file=sys.stderr)
    return found
