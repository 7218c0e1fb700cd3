"""How long an acknowledged entry takes beside a bare write and `fsync` of the same bytes."""
from __future__ import annotations

import os
import tempfile
import time
from dataclasses import dataclass
from decimal import Decimal
from hashlib import sha256
from pathlib import Path
from statistics import median
from typing import Callable, Optional, Sequence

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from companion.core.events import Event, Hearing, JobOpened, StepBegun, StepEnded, ValueLogged
from companion.core.log.journal import FORMAT, public_hex
from companion.core.log.rfc3339 import stamp
from companion.edge.logfile import LogFile

CARD = "card: 1\n"


@dataclass(frozen=True)
class Writing:
    """Medians over `count` writes of the same events."""

    what: str
    count: int
    entry_ms: float
    bare_ms: float
    """Write and `fsync` of the same bytes."""

    @property
    def ratio(self) -> float:
        return self.entry_ms / self.bare_ms

    @property
    def good(self) -> bool:
        """Within 1.3 times the bare write, or 0.1 ms more."""
        return self.ratio <= 1.3 or self.entry_ms - self.bare_ms <= 0.1


def opened(key: Ed25519PrivateKey) -> JobOpened:
    """The first event of a log to measure with."""
    return JobOpened(format=FORMAT, program="bench", boot="bench", key=public_hex(key), card_name="bench",
                     card_text=CARD, card_sha256=sha256(CARD.encode()).hexdigest(), ear="bench", voice="bench")


def value(count: int) -> ValueLogged:
    """One spoken value."""
    heard = Hearing(f"log value {count % 40}.50 newton metres", Decimal("0.93"), "embedded")
    return ValueLogged(step=f"clamp-torque.{count % 4 + 1}", heard=heard, name="clamp torque", value=f"{count % 40}.50",
                       unit="N·m", said=f"{count % 40}.50", said_unit="N·m", low=Decimal("7.0"), high=Decimal("40.0"))


def decision(count: int) -> Sequence[Event]:
    """What a spoken value that ends its step brings: three events and a seal, signed while the mechanic waits."""
    found = value(count)
    return found, StepEnded(step=found.step), StepBegun(step="clean")


KINDS: dict[str, Callable[[int], Sequence[Event]]] = {
    "one entry": lambda count: (value(count),), "a step's end, four lines with a seal": decision}


def measure(what: str, count: int = 400, folder: Optional[Path] = None) -> Writing:
    """One of `KINDS` and its bare write, each as often before the other as after it, in a folder under `folder`."""
    key, entry, bare = Ed25519PrivateKey.generate(), [], []
    with tempfile.TemporaryDirectory(dir=folder) as place, open(Path(place, "bare"), "ab", buffering=0) as other, \
            LogFile.create(Path(place, "log.jsonl"), key) as log, open(log.path, "rb") as written:
        log.append([opened(key)], stamp(0), 0)
        written.seek(0, os.SEEK_END)
        log.append(KINDS[what](0), stamp(0), 0)
        data = written.read()
        for turn in range(count):
            events, at = KINDS[what](turn), stamp(turn)
            acts = [(entry, lambda: log.append(events, at, turn)),
                    (bare, lambda: (os.write(other.fileno(), data), os.fsync(other.fileno())))]
            for times, act in acts if turn % 2 else acts[::-1]:
                begun = time.perf_counter()
                act()
                times.append(time.perf_counter() - begun)
    return Writing(what, count, median(entry) * 1000, median(bare) * 1000)


if __name__ == "__main__":
    for kind in KINDS:
        found = measure(kind)
        print(f"{kind}: acknowledged in {found.entry_ms:.3f} ms, bare write and fsync {found.bare_ms:.3f} ms, "
              f"ratio {found.ratio:.2f}, n = {found.count}: {'good' if found.good else 'too slow'}")
