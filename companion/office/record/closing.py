"""The closing seal on a paper: in letters, in words, as a QR code, with what it is for."""
from __future__ import annotations

from companion.office.record.paper.blocks import Says, Seal, Section
from companion.office.record.rows import Row

HEADING = "Closing seal"
_FOR = "With it, “companion verify --seal” tells a log that was cut or wholly rewritten. Keep it apart from the log."


def closing(data: Row, says: str = _FOR, broken: str = "the log does not hold") -> Section:
    """The seal, or why there is none. `says`: what it is for; `broken`: what keeps it from a log that does not hold."""
    check = data["check"]
    if not check["closing_seal"] or check["wrong"]:
        why = broken if check["wrong"] else "the job is unfinished"
        return Section(HEADING, (Says(f"None: {why}."),))
    encoded = f"Job log {data['log']}, closing seal {check['closing_seal']}"
    return Section(HEADING, (Seal(check["closing_seal"], check["closing_seal_spoken"], encoded, says),))
