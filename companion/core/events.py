"""The vocabulary of a job: what comes in (`Input`), what became true (`Event`), what to carry out (`Effect`).

Events are the only truth. They are written to the log, in order, and replaying them gives the state again.
"""
from __future__ import annotations

import re
from dataclasses import dataclass, fields
from decimal import Decimal
from typing import Optional, Union


@dataclass(frozen=True)
class Personal:
    """Words about a person. The log's chain holds only a salted hash; the words lie in the sidecar file beside it."""

    text: str


@dataclass(frozen=True)
class Hearing:
    """How something was heard; kept with every event that came from it."""

    words: Union[str, Personal]
    score: Optional[Decimal] = None
    """0 to 1, two decimals; None for a typed line."""
    ear: str = "typed"


@dataclass(frozen=True, kw_only=True)
class Event:
    """Root of all facts. `step` is the id of the step it belongs to ("" before the first)."""

    step: str = ""
    heard: Optional[Hearing] = None

    @classmethod
    def name(cls) -> str:
        """The name in the log: `ValueLogged` is "value_logged"."""
        return re.sub(r"(?<!^)(?=[A-Z])", "_", cls.__name__).lower()
