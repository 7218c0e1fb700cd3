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
from companion.core.card import (
    ChoiceOf, CodesOf, CountOf, CylinderOf, FaultOf, RunOf, SpellingOf, Step, ValueOf, WaitOf, load_card)
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
@settings(max_examples=100, deadline=None)
def test_no_stream_of_events_breaks_a_rule(opening, rest) -> None:
    """Any events in any order, at any times, on a card that fits them or not."""
    _held(Made([opening, *(event for event, _, _ in rest)], [(0, 0), *((at, up) for _, at, up in rest)]))


ASKING = (CylinderOf, FaultOf, CodesOf, CountOf, SpellingOf, ValueOf, ChoiceOf, RunOf, WaitOf)
"""Steps whose answers are worked out again."""
CODES = st.lists(st.sampled_from(("P0269", "P0203", "P0202", "P0263", "P0300", "PXXXX", "", "p0203 ", "P0 2 0 3")),
                 max_size=3)


@lru_cache(maxsize=None)
def _steps(text: str) -> tuple[Step, ...]:
    return tuple(step for step in load_card(text, "card").steps if isinstance(step.answer, ASKING))


@st.composite
def answers(draw, text: str) -> ev.Event:
    """An answer to a step of the card, under its name or that of another step, with any content."""
    step, other = draw(st.sampled_from(_steps(text))), draw(st.sampled_from(_steps(text)))
    named = other if draw(st.integers(0, 5)) == 0 else step
    name = getattr(named.answer, "name", "")
    if isinstance(step.answer, CodesOf):
        return ev.CodesLogged(step=step.id, name=name, codes=tuple(draw(CODES)))
    if isinstance(step.answer, ValueOf):
        number = draw(st.sampled_from(("0", "1.6", "2.5", "22", "61", "8.0", "NaN", "9" * 40, "-1")))
        return ev.ValueLogged(step=step.id, name=name, value=number, said=number, said_unit=draw(VALUES[str]),
                              unit=named.answer.unit if isinstance(named.answer, ValueOf) else "nonsense",
                              tool=draw(st.sampled_from(("", "short wrench", "my own"))), arm=draw(VALUES[Decimal]),
                              adaptor=draw(VALUES[Decimal]), uncertainty=draw(st.none() | VALUES[Decimal]))
    if isinstance(step.answer, CountOf):
        return ev.CountLogged(step=step.id, name=name, count=draw(VALUES[int]))
    if isinstance(step.answer, SpellingOf):
        return ev.SpellingLogged(step=step.id, name=name, text=draw(VALUES[str]))
    said = draw(st.sampled_from(("cylinder one", "cylinder three", "they disagree", "wiring", "none",
                                 *named_options(step))))
    return draw(st.sampled_from((ev.AnswerGiven(step=step.id, name=name, answer=said), ev.StepBegun(step=step.id),
                                 ev.StepBegun(step=step.id, how="previous"), ev.StepEnded(step=step.id, outcome=said))))


def named_options(step: Step) -> tuple[str, ...]:
    return tuple(getattr(step.answer, "options", ()))


@pytest.mark.parametrize("text", [INJECTOR, ROAD_WHEELS, EVERY_KIND], ids=["injector", "wheels", "every-kind"])
@given(data=st.data())
@settings(max_examples=50, deadline=None)
def test_no_answers_that_make_no_sense_break_a_rule(text, data) -> None:
    """The card's own steps, answered in any order and with anything: codes that are none, cylinders before codes."""
    events = data.draw(st.lists(answers(text), max_size=60))
    _held(Made([opened(card_text=text, tools_text=TOOLS, tools_name="tools.yaml"), *events],
               [(1000 * n, 1000 * n) for n in range(len(events) + 1)]))


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


CARDS_AMISS = [
    ("no such plug", "proves: unplugged", "proves: nothing"),
    ("a plug that is a choice", "proves: unplugged", "proves: freeze frame"),
    ("no cylinders", "cylinders: {count: 4, counted_from: the belt end}\n", ""),
    ("more of them than there can be", "count: 4, counted_from", "count: 90, counted_from"),
    ("readings that are no numbers", "readings: {fuel quantity:", "readings: {first look:"),
    ("a count like a choice", "same_as: caps}", "same_as: freeze frame}"),
    ("a clock that there is not", "wait: bleed-down", "wait: nothing"),
    ("a run without a clock", "clock: leak watch", "clock: nothing"),
    ("a way that leads nowhere", "then: {leaking: stop-unopened}", "then: {leaking: nowhere}"),
    ("a caution that there is not", "cautions: [looking]", "cautions: [nothing]"),
    ("a spelling like nothing", "same_as: vehicle number, last: 6", "same_as: nothing, last: 6"),
    ("no rise from what is no value", "no_rise_from: rail pressure}", "no_rise_from: freeze frame}"),
    ("limits the wrong way round", "low: 1.2, high: 1.9", "low: 1.9, high: 1.2"),
]


@pytest.mark.parametrize("what, old, new", CARDS_AMISS, ids=[case[0] for case in CARDS_AMISS])
def test_a_card_that_makes_no_sense_breaks_no_rule(what, old, new) -> None:
    """The card in a log is read without its checks of meaning, so that old logs can be read for ever."""
    assert old in INJECTOR
    for name in ("injector-union-leak", "injector-wrong-plug"):
        _held(_job(name).but(ev.JobOpened, card_text=INJECTOR.replace(old, new)))
