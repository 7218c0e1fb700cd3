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
from typing import Optional, Sequence

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from companion.core.events import Event, Hearing, JobOpened, StepBegun, StepEnded, ValueLogged
from companion.core.journal import FORMAT, public_hex
from companion.core.rfc3339 import stamp
from companion.edge.logfile import LogFile

CARD = "card: 1\n"


@dataclass(frozen=True)
class Writing:
    """Medians over `decisions`, each of four lines: a value heard, its step's end, the seal, the next step."""

    decisions: int
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


def decision(count: int) -> Sequence[Event]:
    """What one spoken value brings."""
    step, value = f"clamp-torque.{count % 4 + 1}", f"{count % 40}.50"
    heard = Hearing(f"log value {value} newton metres", Decimal("0.93"), "embedded")
    return (ValueLogged(step=step, heard=heard, name="clamp torque", value=value, unit="N·m", said=value,
                        said_unit="N·m", low=Decimal("7.0"), high=Decimal("40.0")),
            StepEnded(step=step), StepBegun(step="clean"))


def measure(decisions: int = 400, folder: Optional[Path] = None) -> Writing:
    """Both in turn, each as often before the other as after it, in a temporary folder under `folder`."""
    key, entry, bare = Ed25519PrivateKey.generate(), [], []
    with tempfile.TemporaryDirectory(dir=folder) as place, open(Path(place, "bare"), "ab", buffering=0) as other, \
            LogFile.create(Path(place, "log.jsonl"), key) as log, open(log.path, "rb") as written:
        log.append([opened(key)], stamp(0), 0)
        written.seek(0, os.SEEK_END)
        log.append(decision(0), stamp(0), 0)
        data = written.read()
        for count in range(decisions):
            acts = [(entry, lambda: log.append(decision(count), stamp(count), count)),
                    (bare, lambda: (os.write(other.fileno(), data), os.fsync(other.fileno())))]
            for times, act in acts if count % 2 else acts[::-1]:
                begun = time.perf_counter()
                act()
                times.append(time.perf_counter() - begun)
    return Writing(decisions, median(entry) * 1000, median(bare) * 1000)


if __name__ == "__main__":
    found = measure()
    print(f"acknowledged entry {found.entry_ms:.3f} ms, bare write and fsync {found.bare_ms:.3f} ms, "
          f"ratio {found.ratio:.2f}, n = {found.decisions}: {'good' if found.good else 'too slow'}")
