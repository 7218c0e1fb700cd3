"""No log can break a rule: events of any kind in any order, of another card, with figures that cannot be."""
from __future__ import annotations

from dataclasses import MISSING, fields
from decimal import Decimal
from functools import lru_cache
from typing import get_type_hints

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from account_maker import Made, made
from companion.core import events as ev
from companion.core.card import load_card
from companion.core.log.codec import vocabulary
from companion.office.findings import KINDS, RULES, findings
from golden import card, worked
from logmaker import opened
from simulator import EVERY_KIND, TOOLS

SECRET = "Zebedee Quagmire"
"""Stands in every personal text, and in nothing that may be told."""
INJECTOR = card("common-rail-injector")
ROAD_WHEELS = card("road-wheels")
KNOWN = sorted({kind for kind in vocabulary().values() if kind.__module__.startswith("companion.core.events.")},
               key=lambda kind: kind.__name__)


def _words() -> tuple[str, ...]:
    """What a log of ours says: names, steps, clocks, answers, codes, units, tools, numbers."""
    found = {"", "done", "affirm", "negative", "inside", "outside", "silence", "leaking", "dry", "wait", "run",
             "timer", "next", "previous", "branch", "resume", "again", "N·m", "bar", "nonsense", "P0203", "P0269",
             "PXXXX", "cylinder three", "third from the belt end",
             "they disagree", "short wrench", "old wrench", "my own", "7.5", "-0", "NaN",
             "1e999999", "9" * 40, "٣", "(erased)", "injector", "wiring", "boot-a", "boot-b"}
    for text in (EVERY_KIND, INJECTOR, ROAD_WHEELS):
        shipped = load_card(text, "card")
        found |= {step.id for step in shipped.steps} | set(shipped.clocks) | set(shipped.cautions)
        found |= {getattr(step.answer, "name", "") for step in shipped.steps}
        found |= {option for step in shipped.steps for option in getattr(step.answer, "options", ())}
    return tuple(sorted(found))


WORDS = _words()
VALUES = {
    str: st.sampled_from(WORDS), bool: st.booleans(),
    int: st.sampled_from((0, 1, 2, 3, 4, -1, 60_000, 2**53 - 1, -(2**53))),
    Decimal: st.sampled_from([Decimal(text) for text in ("0", "-0", "7.5", "8", "-3", "0.01", "9" * 40,
                                                         "0." + "1" * 40)]),
    ev.Personal: st.just(ev.Personal(SECRET)),
}


def _field(hint) -> st.SearchStrategy:
    """Anything that the codec could read for a field of this type."""
    parts = getattr(hint, "__args__", (hint,))
    if getattr(hint, "__origin__", None) is tuple:
        return st.lists(VALUES[str], max_size=3).map(tuple)
    return st.one_of(*(st.none() if part is type(None) else VALUES[part] for part in parts if part is not ev.Hearing))


@lru_cache(maxsize=None)
def _event(kind: type[ev.Event]) -> st.SearchStrategy:
    hints = get_type_hints(kind)
    given_fields = {field.name: _field(hints[field.name]) for field in fields(kind) if field.name != "heard"}
    optional = {name for name in given_fields if kind.__dataclass_fields__[name].default is not MISSING}
    heard = st.none() | st.builds(ev.Hearing, words=VALUES[str] | VALUES[ev.Personal],
                                  score=st.none() | VALUES[Decimal])
    return st.fixed_dictionaries({name: made for name, made in given_fields.items() if name not in optional},
                                 optional={name: given_fields[name] for name in optional} | {"heard": heard}).map(
        lambda values: kind(**values))


EVENTS = st.sampled_from([kind for kind in KNOWN if kind is not ev.JobOpened]).flatmap(_event)
OPENINGS = st.builds(lambda card, tools: opened(card_text=card, tools_text=tools, tools_name="tools.yaml"),
                     st.sampled_from((EVERY_KIND, INJECTOR, ROAD_WHEELS, "card: 2", "")),
                     st.sampled_from((TOOLS, "", "tool_list: 1")))
UPS = st.sampled_from((0, 1, 1000, 59_999, 60_000, 240_000, 40 * 60_000, 2**53 - 1))
ATS = st.sampled_from((0, 1_700_000_000_000, 1_700_000_240_000, 4_102_444_800_000))


def _held(job: Made) -> None:
    """Every rule by itself, then all: each finding is of a known kind, on lines that there are, and tells no secret."""
    account = job.account()
    for rule in RULES:
        for one in rule(account):
            assert one.name in KINDS and one.said.endswith((".", "…")) and "\n" not in one.said
            assert SECRET not in one.said
            assert list(one.lines) == sorted(one.lines), one
            assert all(0 < line <= len(account.entries) for line in one.lines), one
    assert len(findings(account)) == sum(1 for rule in RULES for _ in rule(job.account()))


@given(OPENINGS, st.lists(st.tuples(EVENTS, ATS, UPS), max_size=30))
@settings(max_examples=200, deadline=None)
def test_no_stream_of_events_breaks_a_rule(opening, rest) -> None:
    """Any events in any order, at any times, on a card that fits them or not."""
    _held(Made([opening, *(event for event, _, _ in rest)], [(0, 0), *((at, up) for _, at, up in rest)]))


@lru_cache(maxsize=None)
def _job(name: str) -> Made:
    return made(worked(name))


@given(st.sampled_from(("injector-union-leak", "injector-wrong-plug", "road-wheels", "learning")), st.data())
@settings(max_examples=40, deadline=None)
def test_no_shuffled_job_breaks_a_rule(name, data) -> None:
    """A whole job with lines dropped, doubled, moved, or put in from elsewhere."""
    job = _job(name)
    places = data.draw(st.lists(st.integers(1, len(job.events) - 1), min_size=1, max_size=40))
    events, moments = list(job.events), list(job.moments)
    for place in places:
        how = data.draw(st.sampled_from(("drop", "double", "move", "other")))
        place = min(place, len(events) - 1)
        event = events.pop(place) if how in ("drop", "move") and len(events) > 2 else events[place]
        if how != "drop":
            there = data.draw(st.integers(1, len(events)))
            events.insert(there, data.draw(EVENTS) if how == "other" else event)
    moments = (moments + moments)[:len(events)]
    _held(Made(events, moments))


@pytest.mark.parametrize("card", [ROAD_WHEELS, EVERY_KIND, "", "card: 2"])
def test_a_job_of_another_card_breaks_no_rule(card) -> None:
    """The events of the injector's job under a card that has none of its steps."""
    _held(_job("injector-union-leak").but(ev.JobOpened, card_text=card))


def test_a_log_of_nothing_breaks_no_rule() -> None:
    """Not even a first line."""
    account = Made([], []).account()
    assert [one.name for one in findings(account)] == ["log-unreadable"]
