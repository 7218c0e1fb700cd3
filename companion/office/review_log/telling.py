"""What must be said of the office's log itself before anything in it is relied on: sentences, without markup."""
from __future__ import annotations

from typing import Iterator

from companion.office.place import OFFICE
from companion.office.review_log.reviewed import Reviewed
from companion.office.trusted import ADD, LIST

_NAMED = 5
"""Lines that are told one by one."""


def warnings(office: Reviewed) -> Iterator[str]:
    """What is wrong: lines that were changed, what is missing, entries that do not count."""
    if office.broken:
        yield (f"The office's log was changed after it was written, at line {office.broken}: {office.why}. Neither that line "
               "nor what follows it counts")
    yield from office.doubts
    for place, (n, why) in enumerate(office.uncounted.items()):
        if place < _NAMED:
            yield f"Line {n + 1} of the office's log does not count: {why}"
    if len(office.uncounted) > _NAMED:
        yield f"And {len(office.uncounted) - _NAMED} more of its lines do not count"


def whose_keys(office: Reviewed) -> str:
    """Whether the keys in the log are those of the office; "" where nothing is written yet."""
    if not office.entries:
        return ""
    return (f"Only keys on the list of trusted keys ({OFFICE}/{LIST}) count" if office.trusted else
            f"There is no list of trusted keys ({OFFICE}/{LIST}): whoever may write in the folder can sign here with a key of "
            f"their own, and it counts. Begin one: {ADD.format(key='KEY')}")
