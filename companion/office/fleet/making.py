"""One made job: worked from its first word to its end, as the bytes of its log."""
from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from hashlib import sha256
from random import Random
from typing import Optional

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from companion.core.card import Card, ToolOf, load_card
from companion.core.events import Hearing
from companion.core.job.inputs import CameBack, Heard, Input, LoneTerms, Opened, RoomHeard, Unheard
from companion.core.job.state import Job
from companion.core.log.journal import public_hex
from companion.core.log.rfc3339 import stamp
from companion.edge.opening import NO_TOOLS, opened
from companion.errors import BrokenMachine
from companion.office.fleet.acts import Act, ComeBack, GoAway, Let, Mumble, Say, SetClock
from companion.office.fleet.mechanic import Mechanic
from companion.office.fleet.plan import Plan, planned
from companion.office.fleet.shift import Shift

EAR, VOICE = "simulated", "simulated"
_MOST_ACTS = 4000
"""A job that needs more goes round in circles."""
_SALT_BYTES = 16


@dataclass(frozen=True)
class Made:
    """A made job."""

    name: str
    """Its log's file name."""
    log: bytes
    sidecar: bytes
    findings: tuple[str, ...]
    """What is planted in it, sorted."""
    plant: str
    """The plant's name; "" for none."""
    card: str
    entries: int
    """Lines of the log, before any damage."""
    ended: str
    """When it ended, RFC 3339."""
    holds: tuple[str, ...]
    """The hold points passed that the office is to sign off: ids of steps."""
    hold_marks: tuple[str, ...] = ()
    """For each of them what its sign-off binds to, once the job is written: see `holds`."""


@lru_cache(maxsize=8)
def practice_key(seed: int) -> Ed25519PrivateKey:
    """The key that seals made logs. Anybody can work it out, so it vouches for nothing; the boot's name says so."""
    return Ed25519PrivateKey.from_private_bytes(sha256(f"companion practice key {seed}".encode()).digest())


def made(seed: int, number: int) -> Made:
    """The job of that number. Raises BrokenMachine where it comes to no end, or what should go wrong does not."""
    plan = planned(seed, number)
    shift = worked(plan)
    log, sidecar = shift.log()
    plant = plan.plant
    if plant and plant.damage:
        log = plant.damage(log, plan)
    holds = tuple(step for step in shift.job.outcomes if shift.job.card.step(step).hold)
    return Made(plan.name, log, sidecar, tuple(sorted(plant.brings)) if plant else (), plant.name if plant else "",
                plan.edition.card, shift.entries, stamp(shift.now.at_ms), holds if plant is None or plant.signed else ())


def worked(plan: Plan) -> Shift:
    """The job, worked as planned."""
    salts = plan.random("salt")
    shift = Shift(_opening(plan), plan.began, practice_key(plan.seed), lambda: salts.randbytes(_SALT_BYTES),
                  aloud=not plan.typed)
    mechanic, ears = Mechanic(plan), plan.random("ear")
    if not plan.typed:
        shift.take(_room(ears))
    for _ in range(_MOST_ACTS):
        act = mechanic.act(shift.job, shift.shown)
        if act is None or not _done(shift, act, plan, ears):
            break
    else:
        raise _stuck(plan, shift.job, "must come to its end")
    if not mechanic.planted or not shift.over and not isinstance(act, GoAway):
        raise _stuck(plan, shift.job, "must go on until it is over, and go wrong as planned")
    return shift


def _done(shift: Shift, act: Act, plan: Plan, ears: Random) -> bool:
    """Carry out an act; False where nothing can follow."""
    okay = Heard(Hearing("I am okay") if plan.typed else Hearing("I am okay", Decimal("0.95"), EAR))
    if isinstance(act, Let):
        return shift.wait_until_due(okay)
    if isinstance(act, ComeBack):
        back = CameBack(f"{_boot(plan)}, second start", False, ear="typed" if plan.typed else EAR)
        shift.come_back(act.after_ms, ears.randrange(20_000, 900_000), back)
        return True
    before = _place(shift.job)
    shift.wait(act.after_ms, okay)
    if isinstance(act, GoAway):
        return False
    if isinstance(act, SetClock):
        shift.set_clock(act.by_ms)
    elif before == _place(shift.job):  # else something fell due meanwhile, and another answer is wanted
        shift.take(_heard(act, plan, ears))
    return True


def _place(job: Job) -> tuple[str, str]:
    return job.at, job.mode


def _heard(act: Say | Mumble, plan: Plan, ears: Random) -> Input:
    """What reaches the core of what was said or typed."""
    if plan.typed:
        return Heard(Hearing(act.words if isinstance(act, Say) else "hm"))
    if isinstance(act, Mumble):
        return Unheard(Hearing("", _score(ears.randrange(15, 45)), EAR))
    return Heard(Hearing(act.words, _score(ears.randrange(90, 100) if act.score is None else act.score), EAR), act.sure)


def _score(percent: int) -> Decimal:
    return Decimal(f"0.{percent:02d}")


def _opening(plan: Plan) -> Opened:
    card = load_card(plan.edition.text, plan.edition.card, checked=False)
    ears = {"ear": "typed", "voice": "none"} if plan.typed else {"ear": EAR, "voice": VOICE}
    key = public_hex(practice_key(plan.seed))
    return opened(card, plan.tools if _asks_for_tools(card) else NO_TOOLS, boot=_boot(plan), key=key,
                  brief=plan.fitter.brief, mechanic=plan.fitter.initials, lone=_lone(plan), **ears)


def _lone(plan: Plan) -> Optional[LoneTerms]:
    """As the card says; the job in which nothing is heard for long is one of an older companion, which did not check."""
    return None if plan.plant and "long-silence" in plan.plant.brings else LoneTerms()


def _asks_for_tools(card: Card) -> bool:
    return any(isinstance(step.answer, ToolOf) for step in card.steps)


def _boot(plan: Plan) -> str:
    return f"simulated demo, practice key, job {plan.number:05d}"


def _room(ears: Random) -> RoomHeard:
    """A room good to hear in; levels in dB."""
    noise, ratio = ears.randrange(-620, -450), ears.randrange(160, 320)
    tenths = (Decimal(value) / 10 for value in (noise, noise + ratio, ratio))
    return RoomHeard("good", *tenths)


def _stuck(plan: Plan, job: Job, must: str) -> BrokenMachine:
    what = f"the plant \"{plan.plant.name}\"" if plan.plant else "no plant"
    return BrokenMachine(f"job {plan.number} of seed {plan.seed}", must,
                         f"{job.mode} at {job.at} of {plan.edition.card}, with {what}")
