"""Fault codes as a supervisor sees them: read before and after, gone, and none that is new."""
from __future__ import annotations

from functools import lru_cache

import pytest

from account_maker import Made, made, shown
from companion.core import events as ev
from companion.office.findings.codes import codes_missing, codes_not_gone
from golden import injector_at, worked
from simulator import EVERY_KIND, Simulator, at


@lru_cache(maxsize=None)
def clean() -> Simulator:
    return worked("injector-clean")


def left_out(step: str) -> Made:
    """The whole job, with the list of that step left out instead of logged."""
    job = made(clean())
    place = next(place for place, event in enumerate(job.events)
                 if isinstance(event, ev.CodesLogged) and event.step == step)
    job.events[place] = ev.StepLeftOut(step=step, reason="reader is broken")
    return job


def left_out_and_read() -> Made:
    """The whole job, with a list left out and gone back to."""
    job = made(clean())
    return Made([*job.events[:-1], ev.StepLeftOut(step="pending-after"), job.events[-1]],
                [*job.moments, job.moments[-1]])


def unread() -> Made:
    """The whole job without a single list."""
    job = made(clean())
    kept = [(event, moment) for event, moment in zip(job.events, job.moments) if not isinstance(event, ev.CodesLogged)]
    return Made([event for event, _ in kept], [moment for _, moment in kept])


def short_way() -> Simulator:
    """The card `every-kind` to its end, where the step for codes can be gone past."""
    card = EVERY_KIND.replace("{count: rags, must_be: 3}, must: count}",
                              "{count: rags, must_be: 3}, then: {wrong: part}}")
    card = card.replace("answer: {codes: codes before}}", "answer: {codes: codes before}}\n"
                        "      - {id: again, say: Once more., answer: {codes: codes again}}")
    job = at("rags", card=card).say("two", "alfa one bravo two", "affirm", "next").wait(240)
    job.say("zero bar", "pressure gone", "next", "affirm", "next", "next").wait(120).say("next")
    for _ in range(3):
        job.wait(60).say("dry")
    return job.say("next", "next")


MISSING = [
    ("all lists read", lambda: clean(), []),
    ("one left out before", lambda: left_out("codes-before"), ["StepLeftOut codes-before"]),
    ("one left out after", lambda: left_out("permanent-after"), ["StepLeftOut permanent-after"]),
    ("our own left out", lambda: left_out("induced-code"), []),
    ("one never read", lambda: made(clean()).without(ev.CodesLogged, step="pending-after"), [""]),
    ("left out, and read after all", left_out_and_read, []),
    ("none read at all", lambda: unread(), ["", "", "", "", "", ""]),
    ("a job that was stopped", lambda: worked("injector-wrong-cylinder"), []),
    ("an unfinished one", lambda: injector_at("stored-after"), []),
    ("a card whose own way goes past them", short_way, []),
    ("a card without codes", lambda: worked("road-wheels"), []),
]


@pytest.mark.parametrize("what, job, lines", MISSING, ids=[case[0] for case in MISSING])
def test_codes_are_read_before_and_after(what, job, lines) -> None:
    """At a proper end, every list that no way to it passes by, and none that was left out."""
    assert shown([codes_missing], job()) == [f"codes-missing: {line}" for line in lines]


def test_of_a_damaged_log_no_list_is_called_missing() -> None:
    """It may stand on a line that does not hold."""
    assert not list(codes_missing(left_out("codes-before").account(holds=False)))


def after(before: str = "P0269", cleared: str = "", stored: str = "", pending: str = "", permanent: str = "",
          permanent_before: str = "", ours: str = "P0203") -> Made:
    """The clean job, with other codes in its lists than were logged."""
    job = made(clean())
    for step, codes in (("codes-before", before), ("permanent-before", permanent_before), ("induced-code", ours),
                        ("codes-cleared", cleared), ("stored-after", stored), ("pending-after", pending),
                        ("permanent-after", permanent)):
        job = job.but(ev.CodesLogged, step=step, codes=tuple(codes.split()))
    return job


THERE, NEW = "code-still-there: CodesLogged ", "code-new: CodesLogged "
GONE = [
    ("all gone", after, []),
    ("gone at the second clearing", lambda: injector_at("codes-cleared").say(
        "papa zero two six nine", "no more codes", "next", "no more codes"), []),
    ("still there after clearing, gone at the end", lambda: after(cleared="P0269"), []),
    ("still there at the end", lambda: after(cleared="P0269", stored="P0269"), [f"{THERE}stored-after"]),
    ("came back", lambda: after(stored="P0269"), [f"{THERE}stored-after"]),
    ("pending again", lambda: after(pending="P0269"), [f"{THERE}pending-after"]),
    ("our own is not gone", lambda: after(stored="P0203"), [f"{THERE}stored-after"]),
    ("permanent still", lambda: after(permanent="P0269", permanent_before="P0269"), [f"{THERE}permanent-after"]),
    ("new", lambda: after(stored="P0171"), [f"{NEW}stored-after"]),
    ("new, and still there", lambda: after(stored="P0171 P0269"), [f"{THERE}stored-after", f"{NEW}stored-after"]),
    ("new to the list that it is compared with", lambda: after(permanent="P0269"), [f"{NEW}permanent-after"]),
    ("still there right after clearing, and the log ends", lambda: injector_at("codes-cleared").say(
        "papa zero two six nine", "no more codes"), [f"{THERE}codes-cleared"]),
    ("called gone", lambda: after(stored="P0269").but(ev.CodesCompared, still_there=(), came_back=(), gone=("P0269",)),
     [f"{THERE}stored-after"]),
    ("called there", lambda: after().but(ev.CodesCompared, still_there=("P0269",)), []),
    ("ours, and the complaint's own", lambda: after(before="P0203", stored="P0203"), [f"{THERE}stored-after"]),
    ("no codes at all", lambda: after(stored="Q"), []),
]


@pytest.mark.parametrize("what, job, lines", GONE, ids=[case[0] for case in GONE])
def test_codes_are_gone(what, job, lines) -> None:
    """Compared again; the last time that each list was read counts."""
    assert shown([codes_not_gone], job()) == lines


SAID = [
    (codes_not_gone, lambda: after(stored="P0269 P0203 P0171"),
     ["Stored codes after: P0269 is back after it was cleared and P0203 is of our own test and not gone.",
      "Stored codes after: new since the work: P0171."]),
    (codes_not_gone, lambda: after(before="P0269 P0087", cleared="P0269 P0087", pending="P0269 P0087"),
     ["Pending codes after: P0269, P0087 are still there."]),
    (codes_missing, lambda: left_out("codes-before"),
     ['The codes of the step "codes-before" (codes before) were left out; because: reader is broken.']),
    (codes_missing, lambda: made(clean()).without(ev.CodesLogged, step="pending-after"),
     ['The codes of the step "pending-after" (pending codes after) were never read.']),
]


@pytest.mark.parametrize("rule, job, said", SAID, ids=[case[2][0][:60] for case in SAID])
def test_the_sentences_name_the_codes(rule, job, said) -> None:
    """Which codes in which list, and how."""
    assert [one.said for one in rule(job().account())] == said
