"""Whether a line may be opened: the card's wait is over, and the pressure read after it is low and has not risen.

Both count, the wait and, where it can be read, the pressure. Neither has a default here: in practice waits run from
about 30 seconds to 10 minutes, and trapped fuel can raise the pressure again as it warms (common practice, no source),
so the job card states the wait and the limit, and any rise after the wait starts the wait anew.
"""
from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from companion.errors import BadInput
from companion.trade.units import check_number


@dataclass(frozen=True)
class Opening:
    """Whether a line may be opened, and if it stays closed, why."""

    ok: bool
    """True where it may be opened."""
    why: str = ""
    """"" where it may be opened, else "wait not over", "no reading", "pressure rose" or "pressure left"."""
    restart: bool = False
    """True where the whole wait must be served again: the pressure rose after it."""


def may_open(*, waited_ms: int, wait_ms: int, reading: Decimal | None, limit: Decimal | None,
             first: Decimal | None = None, readable: bool = True) -> Opening:
    """Whether the line may be opened now.

    `waited_ms`: milliseconds waited without a break. `wait_ms`: the card's wait, above 0. `reading`: the pressure read
    after the wait; None where none was taken. `limit`: the most pressure at which the card lets it be opened; without
    one no reading is low enough. `first`: an earlier reading after the wait, which the reading must not lie above.
    `readable`: False only where nothing on the machine shows the pressure; a reading taken all the same still counts.
    All pressures in one unit. Raises BadInput for a wait that is missing or cannot be, or a number that cannot be read.
    """
    if wait_ms <= 0:
        raise BadInput("wait before opening", "the card must state one above 0 ms", str(wait_ms))
    if waited_ms < 0:
        raise BadInput("time waited", "must be 0 ms or more", str(waited_ms))
    for value, where in ((reading, "pressure"), (limit, "pressure limit"), (first, "first pressure")):
        if value is not None:
            check_number(value, where)
    if waited_ms < wait_ms:
        return Opening(False, "wait not over")
    if reading is None:
        return Opening(False, "no reading") if readable or first is not None else Opening(True)
    if first is not None and reading > first:
        return Opening(False, "pressure rose", restart=True)
    return Opening(False, "pressure left") if limit is None or reading > limit else Opening(True)
