"""A small made log, in memory, for the tests of the log's modules."""
from __future__ import annotations

import hashlib
import json
from decimal import Decimal
from typing import Any, Iterable, Sequence

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from companion.core.log.chain import Chain
from companion.core.events import Event, Hearing, JobEnded, JobOpened, StepBegun, StepEnded, ValueLogged
from companion.core.log.journal import canonical, public_hex, sign
from companion.core.log.rfc3339 import stamp

KEY = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))
OTHER_KEY = Ed25519PrivateKey.from_private_bytes(bytes(range(1, 33)))
CARD = "card: 1\ntitle: Tighten one nut\n"
START = 1_760_000_000_000


def opened(key: Ed25519PrivateKey = KEY, **changes: Any) -> JobOpened:
    """The first event of a log sealed with `key`."""
    values = {"format": 2, "program": "0.1.0", "boot": "boot-a", "key": public_hex(key), "card_name": "one-nut.yaml",
              "card_sha256": hashlib.sha256(CARD.encode()).hexdigest(), "card_text": CARD, "ear": "typed",
              "voice": "none"}
    return JobOpened(**{**values, **changes})


def value(text: str = "7.50", step: str = "torque.1") -> ValueLogged:
    """A measured value as it was heard."""
    heard = Hearing(f"log value {text} newton metres", Decimal("0.93"), "embedded")
    return ValueLogged(step=step, heard=heard, name="torque", value=text, unit="N·m", said=text, said_unit="N·m",
                       low=Decimal("7"), high=Decimal("8.0"))


def small(key: Ed25519PrivateKey = KEY, text: str = "7.50") -> list[Event]:
    """A whole job of one step."""
    return [opened(key), StepBegun(step="torque.1"), value(text), StepEnded(step="torque.1"), JobEnded(step="torque.1")]


def written(events: Sequence[Event], key: Ed25519PrivateKey = KEY) -> list[bytes]:
    """The log of `events` as lines, one second and one decision each, sealed where it must be."""
    chain, lines = Chain(), []
    for count, event in enumerate(events):
        lines.append(chain.add(event, stamp(START + 1000 * count), 500 + 1000 * count, lambda: bytes(16))[0])
        if event.seals:
            lines.append(chain.seal(key)[0])
    return lines


def rewritten(objects: Iterable[dict[str, Any]], key: Ed25519PrivateKey | None = KEY) -> list[bytes]:
    """Line objects as a log again, whose chain fits whatever was changed in them; sealed anew, or not where no key."""
    lines: list[bytes] = []
    prev = "0" * 64
    for line in objects:
        line = {**line, "prev": prev}
        if line["event"] == "sealed" and key is not None:
            line["data"] = {"sig": sign({**line, "data": {}}, key)}
        lines.append(canonical(line) + b"\n")
        prev = hashlib.sha256(lines[-1][:-1]).hexdigest()
    return lines


def objects(lines: Iterable[bytes]) -> list[dict[str, Any]]:
    """The objects on lines."""
    return [json.loads(line) for line in lines]
