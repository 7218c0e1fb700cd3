"""Opening the index together with what the office's own log says of its jobs."""
from __future__ import annotations

import sys
from dataclasses import replace

from companion.office.place import lines_in
from companion.office.review.overlay import apply_register
from companion.office.review.query import Index
from companion.office.review.store import Store
from companion.office.review_log import Reviewed, reviewed
from companion.office.review_log.file import NAME, OFFICE
from companion.office.trusted import trusted_in
from companion.terminal import clean


def open_index(logs: Store, apart: str = "") -> Index:
    """The index of a folder of logs, with the findings of trusted keys, of the register of cards and of hold points.
    `apart`: see `indexing.update`."""
    index, said = Index.open(logs, apart), office_log(logs)
    if said.broken:
        print(f"companion: {OFFICE}/{NAME}:{said.broken}: {clean(said.why)}\n"
              "companion: neither that line nor what follows it counts", file=sys.stderr)
    apply_register(index, said)
    return index


def office_log(logs: Store) -> Reviewed:
    """What the office's log says, with the list of trusted keys; nothing where there is none. Raises OSError, TrustErrors."""
    office = logs.within(OFFICE)
    said = reviewed(lines_in(office, NAME), f"{OFFICE}/{NAME}") if office.has(NAME) else Reviewed()
    return replace(said, trusted=trusted_in(office))
