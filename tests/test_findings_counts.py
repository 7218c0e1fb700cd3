"""What must be the same at the end as at the start, as a supervisor sees it: counts, and the vehicle's number."""
from __future__ import annotations

from functools import lru_cache

import pytest

from account_maker import Made, made, shown
from companion.core import events as ev
from companion.office.findings.counts import count_unreconciled
from companion.office.findings.vehicle import vehicle_differs
from golden import card, injector_at, play, worked
from simulator import Simulator

_FIRST, _AGAIN = "answer: {spelling: vehicle number, vin: true}", "answer: {spelling: vehicle number again,"
PERSONAL = card("road-wheels").replace(_FIRST, f"{_FIRST}\n        personal: true").replace(
    _AGAIN, f"personal: true\n        {_AGAIN}")


def counted(step: str, count: int, **more) -> Made:
    """A whole clean job with another count at that step."""
    return made(clean()).but(ev.CountLogged, step=step, count=count, **more)


@lru_cache(maxsize=None)
def clean() -> Simulator:
    return worked("injector-clean")


COUNTS = [
    ("all back", clean, []),
    ("three for four", lambda: injector_at("caps-back").say("three"), ["CountLogged caps-back"]),
    ("three for four, and found", lambda: injector_at("caps-back").say("three", "four"), []),
    ("called right", lambda: counted("caps-back", 3, verdict="right"), ["CountLogged caps-back"]),
    ("called wrong", lambda: counted("caps-back", 4, verdict="wrong"), []),
    ("one too many", lambda: counted("rags-back", 7), ["CountLogged rags-back"]),
    ("another figure in the log than on the card", lambda: counted("old-parts", 3, must_be=3),
     ["CountLogged old-parts"]),
    ("another figure in the log than was counted", lambda: counted("caps-back", 3, must_be=3),
     ["CountLogged caps-back"]),
    ("what was laid out was not four", lambda: counted("caps-out", 5),
     ["CountLogged caps-out", "CountLogged caps-back", "CountLogged caps-before-drive"]),
    ("nothing to be held against", lambda: injector_at("rags-out").say("nine"), []),
    ("nothing was counted first", lambda: made(injector_at("plugs-back").say("four")).without(
        ev.CountLogged, step="plugs-out").but(ev.CountLogged, must_be=None), []),
    ("a count of no card of ours", lambda: counted("old-parts", 3, name="x", must_be=4), ["CountLogged old-parts"]),
    ("the same, right", lambda: counted("old-parts", 4, name="x", must_be=4), []),
]


@pytest.mark.parametrize("what, job, lines", COUNTS, ids=[case[0] for case in COUNTS])
def test_what_went_out_comes_back(what, job, lines) -> None:
    """The last count of each step, against the card's figure or the earlier count; no verdict is believed."""
    assert shown([count_unreconciled], job()) == [f"count-unreconciled: {line}" for line in lines]


def spelled(first: str = "0FHVN2RX8H0004217", again: str = "004217") -> Made:
    """The vehicle's number at the start and at the end of a whole job."""
    return made(clean()).but(ev.SpellingLogged, step="vehicle", text=first).but(
        ev.SpellingLogged, step="vehicle-again", text=again)


def personal(again: str, erased: bool = False) -> Made:
    """The same on a card where it is a private owner's, and personal."""
    lines = ["mike echo", "affirm", "affirm"]
    lines[2:2] = ["zero foxtrot hotel victor november two romeo x-ray eight hotel zero zero zero four two one seven"]
    job = made(play(Simulator(PERSONAL), lines))
    assert isinstance([event for event in job.events if isinstance(event, ev.SpellingLogged)][-1].text, ev.Personal)
    last = ev.SpellingLogged(step="vehicle-again", name="vehicle number again", text=ev.Personal(again))
    job = Made([*job.events, last], [*job.moments, job.moments[-1]])
    return job.but(ev.SpellingLogged, step="vehicle", text=ev.Personal("(erased)")) if erased else job


VEHICLES = [
    ("the same", lambda: spelled(), []),
    ("another", lambda: spelled(again="004218"), ["SpellingLogged vehicle-again"]),
    ("shorter", lambda: spelled(again="04217"), ["SpellingLogged vehicle-again"]),
    ("in small letters", lambda: spelled(first="0FHVN2RX8H00A421X", again="a421x".rjust(6, "0")), []),
    ("misheard, and put right before it was logged", lambda: injector_at("vehicle-again").say(
        "zero zero four two one eight", "correction place six seven", "affirm"), []),
    ("another, then gone back to", lambda: injector_at("vehicle-again").say(
        "zero zero four two one eight", "affirm", "previous step", "zero zero four two one seven", "affirm"), []),
    ("called the same", lambda: spelled(again="004218").but(ev.SpellingsCompared, verdict="same"),
     ["SpellingLogged vehicle-again"]),
    ("the part's code differs", lambda: made(injector_at("part-code-again").say(
        "seven kilo two november four foxtrot", "affirm")), []),
    ("never spelled before", lambda: spelled(again="004218").without(ev.SpellingLogged, step="vehicle"), []),
    ("personal, the same", lambda: personal("004217"), []),
    ("personal, another", lambda: personal("004218"), ["SpellingLogged vehicle-again"]),
    ("personal, and erased", lambda: personal("004218", erased=True), []),
    ("nothing", lambda: spelled(again=" "), []),
]


@pytest.mark.parametrize("what, job, lines", VEHICLES, ids=[case[0] for case in VEHICLES])
def test_the_vehicle_is_the_same_at_the_end(what, job, lines) -> None:
    """The last spelling, against the end of the first one."""
    assert shown([vehicle_differs], job()) == [f"vehicle-differs: {line}" for line in lines]


SAID = [
    (count_unreconciled, lambda: counted("caps-back", 3), "Caps back: 3 counted, and there must be 4."),
    (vehicle_differs, lambda: spelled(again="004218"),
     "Vehicle number again differs from the first at place 6, 004218 against 004217."),
    (vehicle_differs, lambda: personal("014218"), "Vehicle number again differs from the first at place 2 and 6."),
]


@pytest.mark.parametrize("rule, job, said", SAID, ids=[case[2][:50] for case in SAID])
def test_the_sentences_give_both(rule, job, said) -> None:
    """Both counts, both numbers; of a personal number only the places."""
    assert [one.said for one in rule(job().account())] == [said]
