"""A decision being made: events are added one by one and each is applied at once, so that the next one sees it."""
from __future__ import annotations

from dataclasses import replace
from typing import Optional

from companion.core.job.apply import apply
from companion.core.events import Event, Hearing, Personal, Refused
from companion.core.job.inputs import Now
from companion.core.job.state import Job


class Draft:
    """The events of one decision, and the state after them."""

    def __init__(self, job: Job, now: Now, heard: Optional[Hearing] = None) -> None:
        self.job, self.now, self.events = job, now, []
        self.heard = self._guarded(heard)

    def _guarded(self, heard: Optional[Hearing]) -> Optional[Hearing]:
        """What is said at a step marked personal is personal, whatever it was; so is what corrects such a value later."""
        job = self.job
        if heard is None or isinstance(heard.words, Personal):
            return heard
        corrects = job.value is not None and isinstance(job.value.value, Personal) and "correction" in heard.words.lower()
        if corrects or (job.begun and job.step.personal) or job.proofs[:1] == ("mechanic",):
            return replace(heard, words=Personal(heard.words))
        return heard

    def add(self, fact: type[Event], /, **fields: object) -> None:
        """Add a fact at the present step, with how it was heard unless it only follows from another."""
        fields.setdefault("step", self.job.at)
        event = fact(heard=None if fact.follows else self.heard, **fields)  # type: ignore[arg-type]
        self.job = apply(self.job, event, self.now)
        self.events.append(event)

    def refuse(self, act: str, why: str) -> None:
        """Say why an act does not fit here; the words are logged."""
        self.add(Refused, act=act, why=why)
