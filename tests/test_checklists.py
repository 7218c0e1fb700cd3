"""The shipped job cards: they load, hold every stage of the job, and keep the order that keeps people whole."""
from __future__ import annotations

import re
from pathlib import Path

import pytest

from companion.core.card import (
    Affirm, Card, ChoiceOf, CodesOf, CylinderOf, Done, FaultOf, RunOf, SpellingOf, Step, ToolOf, ValueOf, WaitOf)
from companion.core.numbers import say_number
from companion.edge.cards import read_card, shipped

FOLDER = Path(__file__).parent.parent / "checklists"
CARDS = tuple(f"{name}.yaml" for name in shipped())


def card(name: str) -> Card:
    return read_card(FOLDER / name)


@pytest.fixture(scope="module")
def injector() -> Card:
    return card("common-rail-injector.yaml")


@pytest.fixture(scope="module")
def wheels() -> Card:
    return card("road-wheels.yaml")


def test_the_three_cards_are_shipped() -> None:
    """The injector, the wheels and the learning card lie in checklists/."""
    assert {"common-rail-injector.yaml", "learning.yaml", "road-wheels.yaml"} <= set(CARDS)


@pytest.mark.parametrize("name", CARDS)
def test_every_shipped_card_loads_and_defers(name: str) -> None:
    """Each loads without an error, holds invented figures and says so, and puts the maker's data before itself."""
    loaded = card(name)
    assert loaded.practice
    assert "maker's data, local codes and licensed practice" in loaded.defers


# Every stage of the job, in the words in which the trade tells it, with the steps that do it.
STAGES = {
    "sign on": ("sign-on", "contact"),
    "whose": ("customer",),
    "which": ("vehicle",),
    "what complaint": ("complaint",),
    "mileage": ("mileage",),
    "condition": ("condition", "damage-agreed"),
    "authority to spend": ("authority",),
    "place the vehicle": ("off-traffic", "brake-and-chocks", "automatic-start-off", "fresh-air", "goggles"),
    "save codes and freeze frame": ("reader-on", "codes-before", "permanent-before", "freeze-frame"),
    "prove which cylinder": ("balance-start", "balance.1", "balance.2", "balance.3", "balance.4", "balance-stop",
                             "suspect", "proof-rest", "proof-plug-off", "proof-start", "proof-run", "proof-stop",
                             "induced-code", "leak-off-run", "leak-off.1", "leak-off.4", "unplugged"),
    "injector rather than its wiring or driver": ("pins", "coil", "driver", "verdict"),
    "make the fuel system safe": ("key-out", "run-down-wait", "bleed-down-wait", "rail-pressure", "rail-pressure-watch",
                                  "rail-pressure-held", "pressure-again", "key-held"),
    "strip": ("cover-union", "crack-union", "weep", "rail-union", "return-off", "plug-off", "clamp-off", "injector-out",
              "seized-soak", "soak-wait", "seized-pull", "washer-out"),
    "cap": ("caps-on", "bore-plugged"),
    "clean": ("clean-around", "bore-clean", "seat-look"),
    "the new part's code read off its body first": ("part-code", "part-code-again", "part-number", "part-as-ordered",
                                                    "transport-caps"),
    "one new washer": ("new-washer",),
    "fit": ("bore-open", "injector-in", "clamp-by-hand", "unions-by-hand", "return-on", "plug-on"),
    "a tool that can really measure that torque": ("clamp-wrench", "union-wrench"),
    "tighten in stages": ("clamp-torque", "clamp-angle", "injector-union", "rail-union-tight"),
    "engine turned by hand": ("turn-by-hand",),
    "count everything out before the first start": ("tools-back", "caps-back", "plugs-back", "rags-back"),
    "enter the part's code": ("enter-code", "code-entered"),
    "prime": ("prime", "first-start", "starter-hot", "starter-wait"),
    "timed leak checks": ("leak-run", "leak-engine-off", "leak-wait", "leak-pressure", "leak-key-held", "leak-where",
                          "union-allowed", "union-retightened", "new-pipe", "return-reseat", "seat-again"),
    "refit": ("run-stop", "covers"),
    "let the controller relearn": ("ready-to-clear", "clear-codes", "learning-key-out", "learning-rest",
                                   "learning-start", "learning-idle", "learned"),
    "road test": ("return-time", "ready-to-drive", "set-off", "back", "drive-whole", "parked", "complaint-after"),
    "look for leaks again while hot": ("hot-look",),
    "show which codes are gone": ("stored-after", "pending-after", "permanent-after", "codes-verdict"),
    "hand over": ("old-parts", "hand-over-words", "fuel-warning", "sign-off"),
}


@pytest.mark.parametrize("stage", STAGES)
def test_every_stage_of_the_job_has_steps(stage: str, injector: Card) -> None:
    """No stage of the job is empty, and every step named for it is on the card."""
    assert STAGES[stage]
    for step_id in STAGES[stage]:
        assert injector.step(step_id).say or isinstance(injector.step(step_id).answer, WaitOf)


PRACTICE = "common practice, no source"
HSENI = "HSENI alert, 30 September 2014"

# (earlier, later, why, source)
ORDER = (
    ("authority", "reader-on", "no work without a yes to it", PRACTICE),
    ("contact", "off-traffic", "somebody knows where the lone worker is (HSE INDG73, seen second-hand)", "HSE INDG73"),
    ("off-traffic", "reader-on", "out of the traffic before anything else", PRACTICE),
    ("automatic-start-off", "proof-plug-off", "the engine cannot start by itself under the hands", PRACTICE),
    ("fresh-air", "balance-start", "air before the first exhaust", PRACTICE),
    ("goggles", "first-look", "eyes covered before the first look at fuel pipes", PRACTICE),
    ("codes-before", "balance-start", "codes saved before anything is disturbed", PRACTICE),
    ("codes-before", "proof-plug-off", "codes saved before anything is disturbed", PRACTICE),
    ("permanent-before", "proof-plug-off", "codes saved before anything is disturbed", PRACTICE),
    ("freeze-frame", "proof-plug-off", "codes saved before anything is disturbed", PRACTICE),
    ("ready-to-clear", "clear-codes", "clearing is affirmed before it is done", PRACTICE),
    ("freeze-frame", "clear-codes", "nothing is cleared that has not been saved", PRACTICE),
    ("first-look", "balance-start", "no running beside a leak", HSENI),
    ("balance-stop", "proof-rest", "the injector's charge fades only with the engine off", PRACTICE),
    ("proof-rest", "proof-plug-off", "the plug is pulled after the charge has faded", PRACTICE),
    ("proof-key-off", "plug-back-rest", "the injector's charge fades only with the key off", PRACTICE),
    ("plug-back-rest", "plug-back", "the plug is pushed on after the charge has faded", PRACTICE),
    ("induced-code", "crack-union", "a disagreement stops the job before anything is opened", PRACTICE),
    ("verdict", "crack-union", "wiring and controller are ruled out before anything is opened", PRACTICE),
    ("union-wrench", "crack-union", "no fuel system is opened that could not be tightened", PRACTICE),
    ("new-parts", "crack-union", "the new washer and bolt are there before the old ones come off", PRACTICE),
    ("key-out", "bleed-down-wait", "the wait counts only with the key out", PRACTICE),
    ("key-out", "run-down-wait", "the controller runs down only with the key out", PRACTICE),
    ("bleed-down-wait", "rail-pressure", "the wait and then the reading, both", PRACTICE),
    ("rail-pressure", "rail-pressure-held", "a rise after the wait shows only in a second reading", PRACTICE),
    ("rail-pressure-held", "key-held", "the key comes out again after the reading", PRACTICE),
    ("leak-off-back", "suspect", "every return is back on before the proof", PRACTICE),
    ("unplugged", "induced-code", "the place of the plug is said before the code can suggest it", PRACTICE),
    ("one-use-new", "crack-union", "parts that serve once are new before the old ones come off", PRACTICE),
    ("part-code-again", "injector-in", "the code is read twice while it can be seen", PRACTICE),
    ("clear-codes", "codes-cleared", "what is gone must be seen gone before it can come back", PRACTICE),
    ("rail-pressure", "crack-union", "pressure shown gone before a joint is opened", HSENI),
    ("key-held", "crack-union", "no key in the van while a joint is open", PRACTICE),
    ("clean-around", "crack-union", "clean before opening", PRACTICE),
    ("cover-union", "crack-union", "covered, and face out of line, before the union moves", PRACTICE),
    ("weep", "caps-on", "a spray is seen before the pipe comes off", PRACTICE),
    ("crack-union", "caps-on", "capped at once after opening", PRACTICE),
    ("caps-on", "plug-off", "capped before any other work", PRACTICE),
    ("caps-on", "injector-out", "capped before any other work", PRACTICE),
    ("washer-out", "new-washer", "the old washer is out before the new one goes in", PRACTICE),
    ("washer-out", "bore-plugged", "nothing left under the plug", PRACTICE),
    ("bore-plugged", "bore-clean", "no dirt falls into the cylinder", PRACTICE),
    ("seat-look", "injector-in", "no new part on a bad seat", PRACTICE),
    ("bore-open", "injector-in", "the plug is out before the injector goes in", PRACTICE),
    ("part-code", "injector-in", "the code is read while it can be seen", PRACTICE),
    ("part-as-ordered", "injector-in", "the right part before it is fitted", PRACTICE),
    ("transport-caps", "injector-in", "no transport cap is left on a port", PRACTICE),
    ("unions-by-hand", "clamp-torque", "the union is started while the injector can still turn", PRACTICE),
    ("unions-by-hand", "injector-union", "by hand before any spanner", PRACTICE),
    ("clamp-torque", "clamp-angle", "the angle counts from the first stage", PRACTICE),
    ("clamp-angle", "injector-union", "the clamp is tight before the union's final torque", PRACTICE),
    ("injector-union", "turn-by-hand", "the engine moves only when all is tight", PRACTICE),
    ("turn-by-hand", "tools-back", "the bar is counted after it was used", PRACTICE),
    ("tools-back", "first-start", "everything is counted out before the first start", PRACTICE),
    ("caps-back", "first-start", "everything is counted out before the first start", PRACTICE),
    ("plugs-back", "first-start", "everything is counted out before the first start", PRACTICE),
    ("rags-back", "first-start", "everything is counted out before the first start", PRACTICE),
    ("rags-back", "enter-code", "a fan may start with the key on: counted before it", PRACTICE),
    ("code-entered", "first-start", "the controller knows the part before it drives it", PRACTICE),
    ("charger-on", "enter-code", "the supply holds while the controller writes", PRACTICE),
    ("charger-off", "first-start", "no clips near turning parts", PRACTICE),
    ("prime", "first-start", "the starter is spared by priming first", PRACTICE),
    ("first-start", "leak-run", "the leak run is the first thing after the start", PRACTICE),
    ("leak-run", "covers", "the leak run sees every joint before the covers go on", PRACTICE),
    ("leak-engine-off", "leak-wait", "after a leak: engine off, then the wait", HSENI),
    ("leak-wait", "leak-pressure", "after a leak: the wait, then the reading", HSENI),
    ("leak-pressure", "leak-where", "after a leak: pressure gone before anyone looks closely", HSENI),
    ("leak-key-held", "union-retightened", "key out before a spanner goes back on", PRACTICE),
    ("learning-rest", "learning-start", "the controller rests before it learns", PRACTICE),
    ("learned", "set-off", "learning before the road test", PRACTICE),
    ("return-time", "set-off", "the return time is agreed before setting off", PRACTICE),
    ("tools-before-drive", "set-off", "tools counted before the drive", PRACTICE),
    ("caps-before-drive", "set-off", "caps counted before the drive", PRACTICE),
    ("plugs-before-drive", "set-off", "plugs counted before the drive", PRACTICE),
    ("rags-before-drive", "set-off", "rags counted before the drive", PRACTICE),
    ("covers", "set-off", "nothing loose on the road", PRACTICE),
    ("drive-whole", "hot-look", "the second look is a hot one", PRACTICE),
    ("hot-look", "stored-after", "dry before the codes are read", PRACTICE),
    ("clear-codes", "stored-after", "what is read at the end came after the clearing", PRACTICE),
    ("set-off", "stored-after", "codes are read again after the drive", PRACTICE),
    ("codes-verdict", "hand-over-words", "the hand-over says what the codes say", PRACTICE),
    ("tools-at-end", "hand-over-words", "tools counted at the end", PRACTICE),
    ("fuel-warning", "sign-off", "the customer knows what fuel outside means", PRACTICE),
    ("hand-over-words", "sign-off", "the hand-over is the last thing before signing off", PRACTICE),
)


@pytest.mark.parametrize(("earlier", "later", "why", "source"), ORDER, ids=[f"{a}<{b}" for a, b, *_ in ORDER])
def test_a_safe_order(earlier: str, later: str, why: str, source: str, injector: Card) -> None:
    """What keeps people and engine whole comes first; each pair names its source."""
    assert injector.index(earlier) < injector.index(later), f"{why} ({source})"


def reached(loaded: Card, start: str, without: str = "") -> set[str]:
    """Every step a job can come to from `start` without passing `without`.

    A bound's way out (`after_that`) is open only where the job can come to the bounded step again."""
    spent: set[str] = set()
    while True:
        seen = closure(loaded, [start], without, spent)
        more = {step_id for step_id in seen - spent if loaded.step(step_id).after_that
                and step_id in closure(loaded, ways_on(loaded.step(step_id), loaded), without, spent)}
        if not more:
            return seen
        spent |= more


def closure(loaded: Card, waiting: list[str], without: str, spent: set[str]) -> set[str]:
    """Every step reached from `waiting`; of the bounded steps only those in `spent` lead where their bound leads."""
    seen: set[str] = set()
    while waiting:
        step_id = waiting.pop()
        if step_id not in seen and step_id not in ("end", without):
            seen.add(step_id)
            waiting += ways_on(loaded.step(step_id), loaded) + [loaded.step(step_id).after_that] * (step_id in spent)
    return seen


def ways_on(step: Step, loaded: Card) -> list[str]:
    """Where a step's answers lead, its bound left aside."""
    ways = list(step.then.values())
    if isinstance(step.answer, RunOf):
        ways.append(step.answer.silence)
    if not set(outcomes(step)) <= set(step.then):
        ways.append(step.next or loaded.following(step.id))
    return ways


def outcomes(step: Step) -> tuple[str, ...]:
    """The outcomes that a step's answer can have."""
    answer = step.answer
    if isinstance(answer, (ChoiceOf, FaultOf)):
        return answer.options + (("disagree",) if isinstance(answer, FaultOf) else ())
    if isinstance(answer, RunOf):
        return ("good", *answer.bad)
    if isinstance(answer, CodesOf) and answer.proves:
        return "none", "agree", "disagree"
    if isinstance(answer, CodesOf) and answer.against:
        return "none", "new", "back", "ours"
    if isinstance(answer, SpellingOf) and answer.same_as:
        return "same", "different"
    if isinstance(answer, CylinderOf):
        return ("agree", "disagree") if answer.same_as else ("agree", "disagree", "none")
    two = {Affirm: ("affirm", "negative"), ValueOf: ("inside", "outside"), CodesOf: ("none", "some"),
           ToolOf: ("fit", "none")}
    return two.get(type(answer), ("done",))


# (start, gate, target): from start, no way leads to target but through gate. Order in the file alone cannot show this,
# since a card branches and goes back. Common practice, no source; the pressure rows: HSENI alert, 30 September 2014.
GATES = (
    ("sign-on", "rail-pressure", "crack-union"),
    ("sign-on", "key-held", "crack-union"),
    ("sign-on", "bleed-down-wait", "rail-pressure"),
    ("sign-on", "induced-code", "key-out"),
    ("sign-on", "unplugged", "key-out"),
    ("sign-on", "suspect", "key-out"),
    ("sign-on", "clamp-wrench", "crack-union"),
    ("sign-on", "union-wrench", "crack-union"),
    ("sign-on", "rail-pressure-held", "crack-union"),
    ("sign-on", "verdict", "key-out"),
    ("sign-on", "codes-before", "balance-start"),
    ("sign-on", "part-code", "injector-in"),
    ("sign-on", "code-entered", "first-start"),
    ("crack-union", "caps-on", "injector-out"),
    ("crack-union", "washer-out", "injector-in"),
    ("crack-union", "new-washer", "injector-in"),
    ("crack-union", "clamp-angle", "first-start"),
    ("crack-union", "turn-by-hand", "first-start"),
    *((used, count, "first-start")
      for used in ("crack-union", "union-retightened", "new-pipe", "return-reseat", "seat-again", "leak-where")
      for count in ("tools-back", "caps-back", "plugs-back", "rags-back")),
    ("first-start", "leak-run", "covers"),
    ("leak-engine-off", "leak-wait", "leak-where"),
    ("leak-engine-off", "leak-pressure", "leak-where"),
    ("leak-engine-off", "leak-pressure-held", "leak-where"),
    ("leak-engine-off", "leak-key-held", "leak-where"),
    ("leak-engine-off", "leak-run", "covers"),
    ("leak-engine-off", "leak-run", "run-stop"),
    ("leak-where", "leak-run", "set-off"),
    ("seat-again", "clamp-by-hand", "clamp-torque"),
    ("seat-again", "new-washer", "clamp-torque"),
    ("clamp-bolt-spent", "clamp-torque", "clamp-angle"),
    ("new-pipe", "new-pipe-by-hand", "injector-union"),
    ("new-pipe", "rail-union-tight", "first-start"),
    ("first-start", "learned", "set-off"),
    ("first-start", "tools-before-drive", "set-off"),
    ("set-off", "hot-look", "stored-after"),
    ("leak-where", "hot-look", "sign-off"),
    ("first-start", "permanent-after", "sign-off"),
    ("first-start", "codes-verdict", "sign-off"),
)


@pytest.mark.parametrize(("start", "gate", "target"), GATES, ids=[":".join(gate) for gate in GATES])
def test_no_way_round_a_gate(start: str, gate: str, target: str, injector: Card) -> None:
    """Whatever is answered, and however often the card goes back, the gate lies on every way."""
    assert target in reached(injector, start)
    assert target not in reached(injector, start, without=gate)


def test_a_leak_goes_first_to_engine_off(injector: Card) -> None:
    """Every leak, and silence, in both runs leads to the one way to safety (HSENI alert, 30 September 2014)."""
    for step_id in ("leak-run", "hot-look"):
        step = injector.step(step_id)
        assert isinstance(step.answer, RunOf)
        assert set(step.answer.bad) == set(step.then)
        assert {step.then[bad] for bad in step.answer.bad} | {step.answer.silence} == {"leak-engine-off"}
        assert len(step.answer.bad) == 3


@pytest.mark.parametrize("name", CARDS)
def test_every_way_ends(name: str) -> None:
    """From every step the end can be reached, so that nobody is left in the middle of a card."""
    loaded = card(name)
    last = {step.id for step in loaded.steps if "end" in ways_on(step, loaded)}
    assert all(last & reached(loaded, step.id) for step in loaded.steps)


def test_every_stop_leaves_the_van_safe(injector: Card) -> None:
    """Every way that ends before signing off passes the key, the tag and the hand-over as unfinished."""
    last = {step.id for step in injector.steps if "end" in ways_on(step, injector)}
    assert last == {"sign-off", "hand-over-unfinished"}
    for stop in ("stop-unopened", "stop-unfinished", "sprayed"):
        assert "tagged" in reached(injector, stop)
        assert "hand-over-unfinished" not in reached(injector, stop, without="tagged")


@pytest.mark.parametrize("name", CARDS)
def test_every_hazardous_step_has_its_caution(name: str) -> None:
    """A hazardous step names a caution, each caution has its source, and every caution is used."""
    loaded = card(name)
    used = {caution for step in loaded.steps for caution in step.cautions}
    assert used == set(loaded.cautions)
    assert all(step.cautions for step in loaded.steps if step.hazardous)
    assert all(caution.source for caution in loaded.cautions.values())


# What a safety officer would mark as hazardous on this job. Common practice, no source.
HAZARDOUS = {
    "off-traffic": {"traffic"}, "fresh-air": {"fumes", "ignition"}, "first-look": {"injection"},
    "balance-start": {"turning parts", "noise"}, "proof-plug-off": {"drive voltage"}, "proof-start": {"turning parts"},
    "plug-back": {"drive voltage"}, "driver": {"turning parts"}, "leak-off-bottles": {"hot parts"},
    "leak-off-start": {"turning parts"}, "wrong-plug": {"drive voltage"},
    "clean-around": {"hot parts"}, "cover-union": {"trapped fuel"}, "crack-union": {"line of fire"},
    "rail-union": {"line of fire"}, "plug-off": {"drive voltage"}, "turn-by-hand": {"turning parts"},
    "charger-on": {"battery"}, "first-start": {"injection", "turning parts"}, "leak-run": {"looking"},
    "union-retightened": {"line of fire"}, "new-pipe": {"line of fire"}, "learning-start": {"turning parts"},
    "set-off": {"road"}, "hot-look": {"hot parts", "looking"},
}


@pytest.mark.parametrize("step_id", HAZARDOUS)
def test_the_hazards_are_marked(step_id: str, injector: Card) -> None:
    """Each act that can hurt is marked hazardous and guarded by its own caution."""
    step = injector.step(step_id)
    assert step.hazardous and HAZARDOUS[step_id] <= set(step.cautions)


# Steps that nothing may skip: design promise "make-safe, leak and count steps cannot be skipped".
MUSTS = {
    "make-safe": ("off-traffic", "brake-and-chocks", "automatic-start-off", "fresh-air", "key-out", "run-down-wait",
                  "bleed-down-wait", "rail-pressure", "rail-pressure-held", "pressure-again", "key-held", "cover-union", "leak-engine-off",
                  "leak-wait", "leak-pressure", "leak-key-held", "stop-unfinished"),
    "leak-check": ("first-look", "leak-run", "hot-look"),
    "count": ("tools-out", "caps-out", "plugs-out", "rags-out", "caps-on", "washer-out", "new-washer", "tools-back",
              "caps-back", "plugs-back", "rags-back", "tools-before-drive", "rags-before-drive", "tools-at-end"),
}


@pytest.mark.parametrize("must", MUSTS)
def test_what_can_never_be_left_out(must: str, injector: Card) -> None:
    """Each of these steps is marked so that the companion refuses to leave it out."""
    assert {step_id: injector.step(step_id).must for step_id in MUSTS[must]} == dict.fromkeys(MUSTS[must], must)


def test_what_is_counted_out_is_counted_back(injector: Card) -> None:
    """Tools, caps, plugs and rags must come back in the number that went out, and the card's lists agree."""
    assert injector.step("tools-out").answer.must_be == sum(tool.count for tool in injector.tools)  # type: ignore[union-attr]
    for out, *back in (("tools-out", "tools-back", "tools-before-drive", "tools-at-end"), ("caps-out", "caps-back", "caps-before-drive"),
                       ("plugs-out", "plugs-back", "plugs-before-drive"), ("rags-out", "rags-back", "rags-before-drive")):
        name = injector.step(out).answer.name  # type: ignore[union-attr]
        assert {injector.step(step_id).answer.same_as for step_id in back} == {name}  # type: ignore[union-attr]
    assert injector.step("caps-on").answer.must_be == injector.step("caps-out").answer.must_be  # type: ignore[union-attr]
    assert injector.step("old-parts").answer.must_be == injector.step("new-parts").answer.must_be  # type: ignore[union-attr]


def test_what_cannot_be_undone_is_affirmed_first(injector: Card) -> None:
    """The affirm is asked at the step before the opening and before the clearing, not when it is too late."""
    asked = {step.id: injector.following(step.id) for step in injector.steps if step.cannot_undo}
    assert asked == {"cover-union": "crack-union", "ready-to-clear": "clear-codes"}


def test_exactly_one_washer(injector: Card) -> None:
    """One washer out, one in (common practice, no source)."""
    assert injector.step("washer-out").answer.must_be == 1  # type: ignore[union-attr]
    assert injector.step("new-washer").answer.must_be == 1  # type: ignore[union-attr]


def test_waits_for_people_and_waits_for_work(injector: Card) -> None:
    """What guards a person never ends early; what guards the work may."""
    protects = {name: clock.protects for name, clock in injector.clocks.items() if clock.kind == "wait"}
    assert {name for name, whom in protects.items() if whom == "person"} == {"injector rest", "run-down", "bleed-down",
                                                                                "pressure watch"}


def test_no_trade_figure_is_used_as_the_cards_own(injector: Card) -> None:
    """The card's figures are invented: none equals the trade's usual ones (common practice, no source): key out for
    3 minutes before learning, a learning drive of 10 to 20 minutes, a run of about 10 seconds to store the code."""
    lasts = {name: clock.lasts_ms for name, clock in injector.clocks.items()}
    assert lasts["learning rest"] != 3 * 60_000
    assert not 10 * 60_000 <= lasts["drive"] <= 20 * 60_000
    assert lasts["proof run"] != 10_000


def test_personal_answers_and_vehicle_data(injector: Card) -> None:
    """Who works and whose van it is are personal; the depot's vehicle and its part stay in the record."""
    spelled = {step.id: step.personal for step in injector.steps if isinstance(step.answer, SpellingOf)}
    assert spelled == {"sign-on": True, "customer": True, "vehicle": False, "part-code": False, "part-code-again": False,
                       "part-code-differs": False, "part-number": False, "vehicle-again": False}


def test_emergency_words(injector: Card) -> None:
    """What is read at once on "emergency". The sentences about the injury are a suggested wording built on the HSENI
    alert of 30 September 2014 and insurers' talks; a clinician should review it."""
    for words in ("Do not drive yourself. Call an ambulance.",
                  "go to hospital emergency now. Say: high-pressure diesel injection injury.",
                  "Do not treat it as a simple cut, even if it does not hurt."):
        assert words in injector.emergency


@pytest.mark.parametrize("name", CARDS)
def test_a_spoken_order_never_holds_the_unsafe_act(name: str) -> None:
    """No step says "do not", "don't", "never" or "avoid" before an act: half-heard, it would be the unsafe act."""
    for step in card(name).steps:
        heard = " ".join((step.say, step.brief, step.detail)).lower()
        assert not re.search(r"\b(do not|don't|never|avoid)\b", heard), step.id


@pytest.mark.parametrize("name", CARDS)
def test_a_torque_is_said_before_the_pull(name: str) -> None:
    """The words of a tightening step hold the very figure that the answer is checked against."""
    for step in card(name).steps:
        if isinstance(step.answer, ValueOf) and step.answer.unit in ("N·m", "°"):
            assert say_number(str(step.answer.nominal)) in step.say.replace("-", " "), step.id


def test_the_road_is_silent(injector: Card) -> None:
    """On the road nothing is asked and no mark is spoken: after setting off, the card waits for the mechanic's own word
    that the van is parked, and a return time was agreed before (common practice, no source)."""
    back = injector.step(injector.following("set-off"))
    assert isinstance(back.answer, Done) and "parked" in back.say and not back.cautions
    assert injector.step("set-off").starts == ("drive",)
    assert injector.clocks["drive"].marks == ()
    assert isinstance(injector.step("return-time").answer, ValueOf)


def test_wheel_nuts_go_across_in_two_passes(wheels: Card) -> None:
    """Half the torque all round, then final torque all round; no nut follows its neighbour; the wheel is on the ground for the
    final pass, and a retightening is left in the driver's hands. Common practice, no source."""
    numbers = {"one": 1, "two": 2, "three": 3, "four": 4, "five": 5}
    for passing in ("half-torque", "torque"):
        nuts = [numbers[step.item.split()[-1]] for step in wheels.steps if step.base_id == passing]
        assert sorted(nuts) == [1, 2, 3, 4, 5]
        assert all((b - a) % 5 in (2, 3) for a, b in zip(nuts, nuts[1:]))
    order = ("key-out", "on-stand", "faces", "wheel-on", "nuts-by-hand", "half-torque.1", "half-torque.5", "lowered", "torque.1",
             "torque.5", "tools-back", "retorque-label", "retorque-words", "sign-off")
    places = [wheels.index(step_id) for step_id in order]
    assert places == sorted(places)


def test_the_learning_card_shows_the_tool_in_five_steps() -> None:
    """Next, a count, a value with its unit, a short wait and a choice, and nothing that could hurt."""
    loaded = card("learning.yaml")
    assert [type(step.answer).__name__ for step in loaded.steps] == ["Done", "CountOf", "ValueOf", "WaitOf", "ChoiceOf"]
    assert not any(step.hazardous for step in loaded.steps)
