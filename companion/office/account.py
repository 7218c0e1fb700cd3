"""What a log file tells: how far it holds, its entries up to there, and the card they were worked on."""
from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import takewhile
from operator import attrgetter
from pathlib import Path
from typing import Any, Callable, Iterator, Optional, Sequence, TypeVar, Union

from companion.core.job.apply import apply
from companion.core.card import Card, CardErrors, Step, load_card
from companion.core.log.chain import entry_of
from companion.core.log.closing import closing_seal
from companion.core.log.codec import vocabulary
from companion.core.events import Event, JobOpened, JobResumed
from companion.core.job.inputs import Now
from companion.core.log.journal import Entry, Sealed
from companion.core.log.rfc3339 import milliseconds
from companion.core.log.sidecar import Sidecar
from companion.core.job.state import Job
from companion.errors import BadInput, CompanionError
from companion.office.place import Folder, Place
from companion.office.verify import found_in, read_log

Found = TypeVar("Found")
CARD_NAME = "the card in the log"
"""How messages call it."""
MOST_BYTES = 8 * 2**20
"""Of a log that is told whole: an injector's job has 250 kB, eight hours of answers 1.7 MB. A paper takes thirty times it."""
_n = attrgetter("n")


@dataclass(frozen=True)
class Account:
    """One log, read."""

    name: str
    """The file's name, without its folder."""
    found: dict[str, Any]
    """As `companion verify --json` prints it."""
    entries: tuple[Entry, ...]
    """Those that hold and are understood, from the first."""
    unread: str
    """Why entries that hold are missing; "" as a rule."""
    hashes: tuple[str, ...] = ()
    """SHA-256, hex, of each line that holds, from the first; of a damaged log that of the last one is not known."""

    def mark(self, lines: Sequence[int] = ()) -> str:
        """What tells this log from any other up to the last of those lines (from 1), or up to its end: the hash of that
        line, or of the nearest before it that is known. "" where none is."""
        place = min([len(self.hashes), *lines[-1:]])
        return self.hashes[place - 1] if place else ""

    def of(self, *kinds: type[Event]) -> Iterator[tuple[Entry, Any]]:
        """Each entry whose event is of one of `kinds`, and that event; in the order of the log."""
        found = [entry for kind, entries in self._by_kind.items() if issubclass(kind, kinds) for entry in entries]
        found.sort(key=_n)
        return ((entry, entry.event) for entry in found)

    @cached_property
    def _by_kind(self) -> dict[type[Event], list[Entry]]:
        """The entries of each kind of event: a log is asked for some of them again and again."""
        found: dict[type[Event], list[Entry]] = {}
        for entry in self.entries:
            found.setdefault(type(entry.event), []).append(entry)
        return found

    @property
    def opened(self) -> Optional[JobOpened]:
        """The first event; None where not even that holds."""
        return self.entries[0].event if self.entries else None  # type: ignore[return-value]

    @cached_property
    def _card(self) -> tuple[Optional[Card], str]:
        if self.opened is None:
            return None, ""
        try:
            return load_card(self.opened.card_text, CARD_NAME, checked=False), ""
        except CardErrors as error:
            return None, error.errors[0]

    @property
    def card(self) -> Optional[Card]:
        """The card in the log; None where this program cannot read it."""
        return self._card[0]

    @property
    def card_fault(self) -> str:
        """Why the card cannot be read, else ""."""
        return self._card[1]

    def step(self, step_id: str) -> Optional[Step]:
        """The card's step of that id; None where the card has none, or cannot be read."""
        return self._steps.get(step_id)

    @cached_property
    def _steps(self) -> dict[str, Step]:
        return {step.id: step for step in reversed(self.card.steps)} if self.card else {}

    def once(self, work: Callable[["Account"], Found]) -> Found:
        """What `work` makes of this log, worked out at the first asking only."""
        if work not in self._worked:
            self._worked[work] = work(self)
        return self._worked[work]

    @cached_property
    def _worked(self) -> dict[Callable[["Account"], Any], Any]:
        return {}

    @cached_property
    def elapsed(self) -> tuple[int, ...]:
        """For each entry, milliseconds worked since the first; time away does not count."""
        total, before, sums = 0, None, []
        for entry in self.entries:
            if before is not None and not isinstance(entry.event, JobResumed):
                total += entry.up - before
            before = entry.up
            sums.append(total)
        return tuple(sums)

    @property
    def closing_seal(self) -> str:
        """Of a finished log that holds, else "". A tenth of a second, so it is not found for every log."""
        return closing_seal(self.found["last"], self.found["format"]) if self.found["last"] else ""

    def standing(self) -> Optional[Job]:
        """The state that the entries lead to, by the same fold as the live job's.

        None where there is none: a log may be rightly sealed and yet tell of steps that its card does not have."""
        job = None
        try:
            for entry in self.entries:
                if not isinstance(entry.event, Sealed):
                    job = apply(job, entry.event, Now(milliseconds(entry.at), entry.up))
            return job
        except (CompanionError, LookupError, AttributeError, TypeError, ValueError, ArithmeticError, AssertionError):
            return None


def read_account(path: Path) -> Account:
    """The account of the log at `path`, with the personal texts beside it. Raises BadInput where none can be read."""
    try:
        if path.stat().st_size > MOST_BYTES:
            raise ValueError(f"it is longer than {MOST_BYTES:,} bytes. `companion verify` checks logs of any length")
        account = account_in(Folder(path.parent), path.name)
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", "") or error
        raise BadInput(ascii(str(path))[1:-1], f"must be a job log that can be read: {why}") from None
    return replace(account, found={**account.found, "file": str(path)})


def account_in(place: Place, name: str) -> Account:
    """The account of the log `name` at `place`; one reading checks it and tells its entries. Raises OSError."""
    known = vocabulary()

    def told(line: dict[str, Any], sidecar: Sidecar) -> tuple[Union[Entry, BadInput], str]:
        try:
            return entry_of(line, known, sidecar.texts, name), line["prev"]
        except BadInput as error:
            return error, line["prev"]

    log = read_log(place, name, told)
    kept = [one for one, _ in log.report.kept]
    entries = tuple(takewhile(lambda one: isinstance(one, Entry), kept))
    hashes = (*(prev for _, prev in log.report.kept[1:]), *filter(None, [log.report.tail]))
    return Account(name, found_in(log), entries, str(kept[len(entries)]) if len(entries) < len(kept) else "", hashes)
