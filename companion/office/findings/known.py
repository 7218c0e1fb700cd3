"""What had been answered up to a moment of a log: the little of the job's state that the findings are worked out from.

The whole state could be had by the live job's own fold, at ten times the cost of all findings together. Here a log is
gone through once, and every moment looks back into the same lists.
"""
from __future__ import annotations

from bisect import bisect_left
from typing import Any, Callable, Generic, Iterator, Mapping, NamedTuple, Optional, TypeVar

from companion.core import events as ev
from companion.core.card import Card, CodesOf, Step
from companion.core.job.pointing import made_by_us
from companion.core.log.journal import Entry
from companion.errors import BadInput
from companion.office.account import Account
from companion.office.findings.figures import figure

Thing = TypeVar("Thing")

_NONSENSE = (BadInput, ArithmeticError, AttributeError, LookupError, StopIteration, ValueError)
_ANSWERS = (ev.AnswerGiven, ev.ValueLogged, ev.CountLogged, ev.CodesLogged, ev.SpellingLogged)


class _Told(Generic[Thing]):
    """What was logged under each name, every time, with the place in the log."""

    def __init__(self) -> None:
        self.by_name: dict[str, tuple[list[int], list[Thing]]] = {}

    def add(self, name: str, n: int, thing: Thing) -> None:
        places, things = self.by_name.setdefault(name, ([], []))
        places.append(n)
        things.append(thing)


class _Before(Mapping[str, Thing]):
    """What stood under each name before one place in the log."""

    def __init__(self, told: _Told[Thing], n: int) -> None:
        self._told, self._n = told.by_name, n

    def __getitem__(self, name: str) -> Thing:
        places, things = self._told[name]
        place = bisect_left(places, self._n)
        if not place:
            raise KeyError(name)
        return things[place - 1]

    def __iter__(self) -> Iterator[str]:
        return (name for name, (places, _) in self._told.items() if places[0] < self._n)

    def __len__(self) -> int:
        return sum(1 for _ in self)


class _Record:
    """All that a log tells of its answers."""

    def __init__(self, card: Optional[Card]) -> None:
        self.card = card
        self.answers: _Told[str] = _Told()
        self.values: _Told[ev.ValueLogged] = _Told()
        self.readings: dict[str, _Told[str]] = {}
        self.ours: _Told[tuple[str, ...]] = _Told()

    def take(self, entry: Entry, event: Any, step: Optional[Step]) -> None:
        """See the same events in `core.job.keeping`."""
        text, n = _text(event), entry.n
        if isinstance(event, ev.CodesLogged) and step and isinstance(step.answer, CodesOf) and step.answer.ours:
            known = Known(self, n)
            self.ours.add("", n, known.ours + made_by_us(known, event.codes))
        if isinstance(event, ev.ValueLogged):
            self.values.add(event.name, n, event)
            if step and step.item and isinstance(event.value, str) and figure(event.value) is not None:
                self.readings.setdefault(event.name, _Told()).add(step.item, n, text)
        self.answers.add(event.name, n, text)


def _text(event: Any) -> str:
    if isinstance(event, ev.CodesLogged):
        return " ".join(event.codes)
    if isinstance(event, ev.CountLogged):
        return str(event.count)
    return ev.plain(event.text if isinstance(event, ev.SpellingLogged) else
                    event.value if isinstance(event, ev.ValueLogged) else event.answer)


class Known:
    """`core.job.pointing.Answered` at one place in a log: what was answered before it."""

    def __init__(self, record: _Record, n: int) -> None:
        self._record, self._n = record, n
        self.answers: Mapping[str, str] = _Before(record.answers, n)
        self.values: Mapping[str, ev.ValueLogged] = _Before(record.values, n)

    @property
    def card(self) -> Card:
        """The job's card. Raises LookupError where it cannot be read."""
        if self._record.card is None:
            raise LookupError("the card cannot be read")
        return self._record.card

    @property
    def readings(self) -> Mapping[str, Mapping[str, str]]:
        """Name to item to value."""
        return {name: _Before(told, self._n) for name, told in self._record.readings.items()}

    @property
    def ours(self) -> tuple[str, ...]:
        """Codes that our own test made."""
        return _Before(self._record.ours, self._n).get("", ())


class Given(NamedTuple):
    """One answer of a log."""

    entry: Entry
    event: Any
    step: Optional[Step]
    """On the card; None where the card has no such step."""
    record: _Record

    @property
    def known(self) -> Known:
        """What was known before it."""
        return Known(self.record, self.entry.n)


def answers_of(account: Account) -> list[Given]:
    """Every answer of a log: what was chosen, measured, counted, spelled."""
    return account.once(_answers)


def _answers(account: Account) -> list[Given]:
    record, found = _Record(account.card), []
    for entry, event in account.of(*_ANSWERS):
        step = account.step(event.step)
        found.append(Given(entry, event, step, record))
        if event.name:
            record.take(entry, event, step)
    return found


def worked_out(work: Callable[..., Thing], *given: Any) -> Optional[Thing]:
    """What `work` makes of what a log gives; None where it is nothing that it could be asked of.

    A log may hold what no job of ours writes: an answer to a step of another card, a code that is none, a list where a
    cylinder should stand. Nothing can be worked out from that, and the rules for the lines themselves still speak."""
    try:
        return work(*given)
    except _NONSENSE:
        return None
