"""How fast a log is verified beside `json.loads` and SHA-256 over the same lines."""
from __future__ import annotations

import hashlib
import json
import time
from dataclasses import dataclass
from statistics import median

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from companion.core.log.chain import Chain
from companion.core.log.evidence import examine
from companion.core.events import JobEnded
from companion.core.log.rfc3339 import stamp
from companion.edge.bench.writing import decision, opened


@dataclass(frozen=True)
class Verifying:
    """Medians over `rounds`, side by side."""

    lines: int
    rounds: int
    verify_us: float
    """Microseconds a line."""
    plain_us: float
    """The same for `json.loads` and `sha256`."""

    @property
    def ratio(self) -> float:
        """Speed of `verify` as a part of the plain speed."""
        return self.plain_us / self.verify_us

    @property
    def good(self) -> bool:
        """At least 0.4 of the plain speed."""
        return self.ratio >= 0.4


def made_log(decisions: int) -> list[bytes]:
    """A finished log, in memory."""
    key, chain, lines = Ed25519PrivateKey.generate(), Chain(), []
    made = [[opened(key)], *(decision(count) for count in range(decisions)), [JobEnded()]]
    for count, events in enumerate(made):
        for event in events:
            lines.append(chain.add(event, stamp(count * 1000), count * 1000, lambda: bytes(16))[0])
            if event.seals:
                lines.append(chain.seal(key)[0])
    return lines


def measure(decisions: int = 500, rounds: int = 15) -> Verifying:
    """Both in turn over one log."""
    lines, verify, plain = made_log(decisions), [], []
    for _ in range(rounds):
        begun = time.perf_counter()
        if not examine(lambda: lines).holds:
            raise AssertionError("a made log must hold")
        verify.append(time.perf_counter() - begun)
        begun = time.perf_counter()
        for line in lines:
            json.loads(line)
            hashlib.sha256(line).hexdigest()
        plain.append(time.perf_counter() - begun)
    each = 1e6 / len(lines)
    return Verifying(len(lines), rounds, median(verify) * each, median(plain) * each)


if __name__ == "__main__":
    found = measure()
    print(f"verify {found.verify_us:.1f} µs a line, json.loads and sha256 {found.plain_us:.1f} µs, "
          f"ratio {found.ratio:.2f}, {found.lines} lines, n = {found.rounds}: {'good' if found.good else 'too slow'}")
