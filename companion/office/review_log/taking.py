"""Whether the office's log takes an entry: it must be sound, and the key must count."""
from __future__ import annotations

from companion.errors import BadEvidence, BadInput
from companion.office.review_log.facts import DoubtAnswered, Fact
from companion.office.review_log.reviewed import Reviewed
from companion.office.trusted import ADD, OWN_UNKNOWN, UNKNOWN

ANSWER = ("Restore it from a copy; or, if you know why, say so: companion office FOLDER accept --by NAME --reason TEXT. Until "
          "then nothing is added")
"""What to do where the log is not what it was."""


def must_take(found: Reviewed, where: str, fact: Fact, key: str, at: str) -> None:
    """Raises BadEvidence where the log as it is takes nothing, BadInput where it does not take `fact` by that key at that
    time."""
    if found.broken:
        raise BadEvidence(f"{where}:{found.broken}", found.why, do="Nothing is added until somebody has looked at "
                          "it. Restore the file from a copy, or move it away and begin a new one")
    if found.doubts and not isinstance(fact, DoubtAnswered):
        raise BadEvidence(where, f"must be as this machine had seen it. {'. '.join(found.doubts)}", do=ANSWER)
    if isinstance(fact, DoubtAnswered) and not found.doubts:
        raise BadInput(where, "is as this machine had seen it: there is nothing to answer")
    stands = found.standing(key, at)
    if stands and stands.state == UNKNOWN:
        raise BadInput("the key of this machine", "is not on the list of trusted keys. Nothing was written",
                       do=f"Add it: {ADD.format(key=key)}")
    if stands and not stands.fine:
        raise BadInput(f"the key of this machine, {key[:8]}…", "must count in the office's list of trusted keys, but is "
                       f"{stands.said}", do="Nothing was written. Put the key on the list, with the day of today")


def own_fault(found: Reviewed, key: str, at: str) -> str:
    """Why nothing that this machine signs at that time would count, a sentence without its full stop; "" where it would."""
    stands = found.standing(key, at)
    if stands is None or stands.fine:
        return ""
    if stands.state == UNKNOWN:
        return OWN_UNKNOWN.format(key=key)
    return f"This machine's own key is {stands.said}. Its sign-offs do not count"
