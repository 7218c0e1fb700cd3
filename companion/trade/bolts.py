"""Bolts: stress area, proof load, and the preload that a torque gives, as information beside a tightening.

Metric threads of ISO 68-1 profile, in millimetres, newtons, newton metres and megapascals. A torque tells little about
the preload: friction takes most of it, so every preload here goes with its scatter by tightening method.
"""
from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Context, Decimal
from fractions import Fraction

from companion.errors import BadInput
from companion.trade.torque import PI
from companion.trade.units import check_number, rounded

_WORK = Context(prec=50)
_PI = Fraction(PI)
_ROOT_3 = Fraction(_WORK.sqrt(Decimal(3)))

# ISO 261 coarse pitches, mm, from memory.
_COARSE = {3: "0.5", 4: "0.7", 5: "0.8", 6: "1", 7: "1", 8: "1.25", 10: "1.5", 12: "1.75", 14: "2", 16: "2", 18: "2.5",
           20: "2.5", 22: "2.5", 24: "3"}
_THREAD = re.compile(r"M ?([0-9]+(?:\.[0-9]+)?)(?: ?[x×*] ?([0-9]+(?:\.[0-9]+)?))?", re.IGNORECASE | re.ASCII)

# ISO 898-1 by property class, up to 16 mm and above, MPa: proof stress, least 0.2 % yield, least tensile strength.
# Seen second-hand: proof stress but for the 580, yield 640, and what the M8 tensile loads imply; the rest from memory.
_STRENGTHS = {
    "8.8": ((580, 640, 800), (600, 660, 830)),
    "9.8": ((650, 720, 900), None),
    "10.9": ((830, 940, 1040), (830, 940, 1040)),
    "12.9": ((970, 1100, 1220), (970, 1100, 1220)),
}
_LARGEST_DIAMETER = 39

SCATTER: dict[str, tuple[Decimal, Decimal]] = {
    "angle": (Decimal(5), Decimal(12)),
    "torque": (Decimal(17), Decimal(23)),
    "guessed friction": (Decimal(23), Decimal(28)),
}
"""Least and most scatter of preload by tightening method, plus or minus percent (VDI 2230:1986, seen second-hand)."""


@dataclass(frozen=True)
class Thread:
    """A metric thread. Raises BadInput for one that cannot be cut."""

    diameter: Decimal
    """Nominal, mm, above 1.3 times the pitch."""
    pitch: Decimal
    """mm, above 0."""

    def __post_init__(self) -> None:
        _above_zero(self.pitch, "pitch")
        check_number(self.diameter, "diameter")
        if Fraction(self.diameter) <= Fraction(self.pitch) * 13 / 10:
            raise BadInput("diameter", "must be above 1.3 times the pitch", f"{self.diameter} with {self.pitch}")


@dataclass(frozen=True)
class Strength:
    """What a bolt of one property class stands, MPa (ISO 898-1)."""

    proof: Decimal
    """Proof stress."""
    yield_stress: Decimal
    """Least stress at 0.2 % lasting stretch, Rp0.2."""
    tensile: Decimal
    """Least tensile strength."""


@dataclass(frozen=True)
class Preload:
    """A preload with what is not known about it."""

    force: Decimal
    """As aimed at, N."""
    low: Decimal
    """With the most scatter of the method, N."""
    high: Decimal
    """With the most scatter of the method, N."""
    proof_load: Decimal
    """Of the bolt, N."""
    use: Decimal
    """The force as a percentage of the proof load."""
    high_use: Decimal
    """`high` as a percentage of the proof load: above 100 the bolt may stretch for good."""


def parse_thread(text: str) -> Thread:
    """"M8", with the coarse pitch of ISO 261, or "M8x1", "M8×1.25". Raises BadInput for anything else."""
    match = _THREAD.fullmatch(text.strip())
    if match is None:
        raise BadInput("thread", "must be written like M8 or M8x1", repr(text[:40]))
    diameter = Decimal(match[1])
    pitch = match[2] or (_COARSE.get(int(diameter)) if diameter == int(diameter) else None)
    if pitch is None:
        raise BadInput("thread", "must give its pitch, like M8x1, where no coarse pitch is known", repr(text))
    return Thread(diameter, Decimal(pitch))


def stress_area(thread: Thread) -> Decimal:
    """mm², ISO 898-1: As = π/4·(d − 0.9382·P)²."""
    return rounded(_area(thread))


def strength(property_class: str, diameter: Decimal) -> Strength:
    """ISO 898-1 by class ("8.8", "9.8", "10.9", "12.9") and diameter in mm. Raises BadInput outside the standard."""
    if property_class not in _STRENGTHS:
        raise BadInput("property class", "must be one of " + ", ".join(_STRENGTHS), repr(property_class))
    _above_zero(diameter, "diameter")
    small, large = _STRENGTHS[property_class]
    found = small if diameter <= 16 else large
    if found is None or diameter > _LARGEST_DIAMETER:
        most = 16 if large is None else _LARGEST_DIAMETER
        raise BadInput("diameter", f"must be at most {most} mm in class {property_class}", str(diameter))
    return Strength(*map(Decimal, found))


def proof_load(thread: Thread, property_class: str) -> Decimal:
    """N: the stress area times the proof stress (ISO 898-1)."""
    return rounded(_area(thread) * Fraction(strength(property_class, thread.diameter).proof))


def nut_factor(diameter: Decimal, pitch: Decimal, mean_diameter: Decimal, friction: Decimal,
               head_friction: Decimal) -> Decimal:
    """K of T = K·F·d from friction, for a 60° thread and a head that bears at 1.25 times the diameter.

    K = dm/(2d)·(tan λ + f·sec 30°)/(1 − f·tan λ·sec 30°) + 0.625·fc with tan λ = P/(π·dm), all lengths in one unit
    (Shigley, Mechanical Engineering Design, from memory).
    """
    for value, where in ((diameter, "diameter"), (pitch, "pitch"), (mean_diameter, "mean diameter")):
        _above_zero(value, where)
    rise = Fraction(pitch) / (_PI * Fraction(mean_diameter))
    grip = _friction(friction) * 2 / _ROOT_3
    if rise * grip >= 1:
        raise BadInput("pitch", "must not bind the thread", f"{pitch} at a friction of {friction}")
    thread_part = Fraction(mean_diameter) / (2 * Fraction(diameter)) * (rise + grip) / (1 - rise * grip)
    return rounded(thread_part + Fraction(5, 8) * _friction(head_friction))


def torque_by_factor(force: Decimal, diameter: Decimal, factor: Decimal) -> Decimal:
    """N·m for a preload in N on a bolt of `diameter` mm: T = K·F·d. K is near 0.2 for plain steel (from memory)."""
    _above_zero(force, "preload")
    return rounded(Fraction(force) * _factor_lever(diameter, factor))


def preload_by_factor(torque: Decimal, diameter: Decimal, factor: Decimal) -> Decimal:
    """N from a torque in N·m: the inverse of `torque_by_factor`."""
    _above_zero(torque, "torque")
    return rounded(Fraction(torque) / _factor_lever(diameter, factor))


def torque_by_friction(force: Decimal, thread: Thread, friction: Decimal, head_friction: Decimal,
                       bearing_diameter: Decimal) -> Decimal:
    """N·m by VDI 2230: MA = FM·(0.16·P + 0.58·d2·μG + DKm·μK/2), with DKm the head's mean bearing diameter in mm."""
    _above_zero(force, "preload")
    return rounded(Fraction(force) * _friction_lever(thread, friction, head_friction, bearing_diameter))


def preload_by_friction(torque: Decimal, thread: Thread, friction: Decimal, head_friction: Decimal,
                        bearing_diameter: Decimal) -> Decimal:
    """N from a torque in N·m: the inverse of `torque_by_friction`."""
    _above_zero(torque, "torque")
    return rounded(Fraction(torque) / _friction_lever(thread, friction, head_friction, bearing_diameter))


def assembly_preload(thread: Thread, yield_stress: Decimal, friction: Decimal,
                     share: Decimal = Decimal("0.9")) -> Decimal:
    """N at which tension and twist together use `share` of the yield stress (MPa) while tightening.

    VDI 2230: FM = ν·Rp·A0/√(1 + 3·[1.5·(d2/d0)·(P/(π·d2) + 1.155·μG)]²), with d0 = (d2 + d3)/2.
    """
    _above_zero(yield_stress, "yield stress")
    if not (share.is_finite() and 0 < share <= 1):
        raise BadInput("share", "must be above 0 and at most 1", str(share))
    flank, core = _flank_diameter(thread), _stress_diameter(thread)
    twist = Fraction(3, 2) * flank / core * (
        Fraction(thread.pitch) / (_PI * flank) + Fraction("1.155") * _friction(friction))
    under_root = rounded(1 + 3 * twist ** 2)
    tension = Fraction(share) * Fraction(yield_stress) * _PI / 4 * core ** 2
    return rounded(tension / Fraction(_WORK.sqrt(under_root)))


def preload(force: Decimal, thread: Thread, property_class: str, method: str) -> Preload:
    """A preload in N with its scatter by `method` (a key of `SCATTER`) and its share of the proof load."""
    if method not in SCATTER:
        raise BadInput("method", "must be one of " + ", ".join(SCATTER), repr(method))
    _above_zero(force, "preload")
    spread = Fraction(SCATTER[method][1]) / 100
    aimed, proof = Fraction(force), Fraction(proof_load(thread, property_class))
    low, high = aimed * (1 - spread), aimed * (1 + spread)
    return Preload(force, rounded(low), rounded(high), rounded(proof), rounded(100 * aimed / proof),
                   rounded(100 * high / proof))


def _area(thread: Thread) -> Fraction:
    return _PI / 4 * (Fraction(thread.diameter) - Fraction("0.9382") * Fraction(thread.pitch)) ** 2


def _flank_diameter(thread: Thread) -> Fraction:
    """d2 = d − 3/4·H, H = √3/2·P (ISO 724, from memory)."""
    return Fraction(thread.diameter) - _ROOT_3 * 3 / 8 * Fraction(thread.pitch)


def _stress_diameter(thread: Thread) -> Fraction:
    """(d2 + d3)/2 with d3 = d − 17/12·H (ISO 898-1, from memory)."""
    return Fraction(thread.diameter) - _ROOT_3 * 13 / 24 * Fraction(thread.pitch)


def _factor_lever(diameter: Decimal, factor: Decimal) -> Fraction:
    """Newton metres a newton of preload takes."""
    return Fraction(_above_zero(diameter, "diameter")) * Fraction(_above_zero(factor, "nut factor")) / 1000


def _friction_lever(thread: Thread, friction: Decimal, head_friction: Decimal, bearing_diameter: Decimal) -> Fraction:
    """Newton metres a newton of preload takes."""
    head = Fraction(_above_zero(bearing_diameter, "bearing diameter")) * _friction(head_friction) / 2
    thread_part = Fraction("0.58") * _flank_diameter(thread) * _friction(friction)
    return (Fraction("0.16") * Fraction(thread.pitch) + thread_part + head) / 1000


def _friction(value: Decimal) -> Fraction:
    check_number(value, "friction")
    if not 0 <= value < 1:
        raise BadInput("friction", "must be 0 or more and below 1", str(value))
    return Fraction(value)


def _above_zero(value: Decimal, where: str) -> Decimal:
    check_number(value, where)
    if value <= 0:
        raise BadInput(where, "must be above 0", str(value))
    return value
