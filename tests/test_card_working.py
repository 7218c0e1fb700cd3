"""What the companion works out on a job must have what it works from: each rule with the smallest card that breaks it."""
from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.core.card import Card, CardErrors, CountOf, load_card
from companion.trade.torque import cross_order

HEAD = (Path(__file__).parent / "cases" / "cards" / "smallest.yaml").read_text(encoding="utf-8").split("stages:")[0]
CYLINDERS = "cylinders: {count: 4, counted_from: the belt end}\n"
WAIT = "clocks: {rest: {kind: wait, lasts: 10 min, protects: person, say: the rest}, soak: {kind: wait, lasts: 1 min, " \
       "protects: work, say: the soak}}\n"


def text_of(*steps: str, head: str = "") -> str:
    """A card of these steps, each a line of keys; their ids are one, two, three …"""
    ids = ("one", "two", "three", "four", "five", "six")
    lines = (f"      - {{id: {name}, say: Look, {step}}}\n" for name, step in zip(ids, steps))
    return f"{HEAD}{head}stages:\n  - stage: all\n    steps:\n" + "".join(lines)


def made(*steps: str, head: str = "") -> Card:
    return load_card(text_of(*steps, head=head), "x")


def faults(*steps: str, head: str = "") -> list[tuple[str, str]]:
    """What is wrong with a card: the id of the step on that line, and the words."""
    text = text_of(*steps, head=head)
    with pytest.raises(CardErrors) as raised:
        load_card(text, "x")
    lines = text.split("\n")
    return [(lines[fault.line - 1].split("id: ")[-1].split(",")[0], fault.text) for fault in raised.value.faults]


CODES, OTHER_CODES = "answer: {codes: before}", "answer: {codes: after}"
CAPS = "answer: {count: caps}"
NUMBER = "answer: {spelling: number}"
PRESSURE = "answer: {value: pressure, unit: bar, high: 5}"
SUSPECT = "answer: {cylinder: suspect, codes: [before]}, then: {disagree: end, none: end}"
WRENCH = "answer: {tool: wrench, kind: torque wrench}, then: {none: end}"
LOOM = "answer: {choice: [whole loom, chafed], name: loom}"
OHMS = "answer: {value: ohms, unit: Ω, low: 1, high: 3}"
SNUG = "answer: {value: snug, unit: N·m, nominal: 8, tolerance: 1, fastener: bolt}"
TURN = "answer: {value: turn, unit: °, nominal: 65, tolerance: 5, fastener: bolt}"


NEEDS = pytest.mark.parametrize("key, answer, what", [
    ("same_as", "{count: again, same_as: NAME}", "a count"),
    ("same_as", "{spelling: again, same_as: NAME}, then: {different: end}", "a spelling"),
    ("same_as", "{cylinder: again, same_as: NAME}, then: {disagree: end}", "a cylinder"),
    ("codes", "{cylinder: again, codes: [NAME]}, then: {disagree: end, none: end}", "a list of fault codes"),
    ("readings", "{cylinder: again, readings: {NAME: {most_ratio: 2}}}, then: {disagree: end, none: end}", "a measured value"),
    ("proves", "{codes: again, proves: NAME}, then: {disagree: end, none: end}", "a cylinder"),
    ("against", "{codes: again, against: [NAME]}, then: {ours: end, back: end}", "a list of fault codes"),
    ("cleared", "{codes: again, cleared: NAME}", "a list of fault codes"),
    ("tool", "{value: again, unit: N·m, tool: NAME}", "a tool"),
    ("no_rise_from", "{value: again, unit: bar, no_rise_from: NAME}", "a measured value"),
    ("wiring", "{fault: again, wiring: {answer: NAME, sound: whole loom}}, then: {disagree: end}", "a choice"),
    ("driver", "{fault: again, driver: {answer: NAME, sound: whole loom}}, then: {disagree: end}", "a choice"),
    ("swap", "{fault: again, swap: {answer: NAME, sound: whole loom}}, then: {disagree: end}", "a choice"),
    ("resistance", "{fault: again, resistance: NAME}, then: {disagree: end}", "a measured value"),
    ("pressure", "done, opens: {wait: rest, pressure: NAME, again: two}", "a measured value"),
])


@NEEDS
@pytest.mark.parametrize("name", ["nobody", "caps", "loom"])
def test_what_is_worked_from_is_of_the_right_kind(key, answer, what, name):
    """A name that nothing has, and the name of an answer of another kind, are refused at the step that needs it."""
    name = {"a count": "loom", "a choice": "caps"}.get(what, name)
    steps = (CAPS, LOOM, "wait: rest", f"answer: {answer.replace('NAME', name)}")
    assert faults(*steps, head=CYLINDERS + WAIT) == [("four", f'{key} must name {what} of an earlier step, not "{name}"')]


@pytest.mark.parametrize("key, step", [
    ("same_as", "answer: {count: again, same_as: again}"), ("cleared", "answer: {codes: again, cleared: again}"),
    ("against", "answer: {codes: again, against: [again]}, then: {ours: end, back: end}"),
    ("no_rise_from", "answer: {value: again, unit: bar, no_rise_from: again}"),
])
def test_no_answer_is_held_against_itself(key, step):
    """What is worked from must have been answered before."""
    assert faults(step) == [("one", f'{key}: "again" must be answered on every way to this step, but is not')]


def test_a_name_nearly_right_is_offered():
    """The name that was perhaps meant is one of the right kind."""
    assert faults(CAPS, "answer: {count: again, same_as: cups}") == [
        ("two", 'same_as must name a count of an earlier step, not "cups"; did you mean "caps"?')]


def test_what_is_worked_from_was_answered_on_every_way():
    """A step that can be reached past the first count cannot be held against it."""
    assert faults("answer: affirm, then: {negative: three}", CAPS, "answer: {count: again, same_as: caps}") == [
        ("three", 'same_as: "caps" must be answered on every way to this step, but is not')]


@pytest.mark.parametrize("steps, text", [
    (["answer: {value: length, unit: mm}", "answer: {value: held, unit: bar, no_rise_from: length}"],
     'no_rise_from must name a pressure, not "length"'),
    ([LOOM, "answer: {fault: place, wiring: {answer: loom, sound: intact}}, then: {disagree: end}"],
     'sound must be an answer of "loom", not "intact"'),
    ([LOOM, "answer: {fault: place, swap: {answer: loom, sound: intact}}, then: {disagree: end}"],
     'sound must be an answer of "loom", not "intact"'),
    (["answer: {value: ohms, unit: Ω}", "answer: {fault: place, resistance: ohms}, then: {disagree: end}"],
     'resistance must name a value with limits, but "ohms" has none'),
])
def test_what_is_worked_from_fits(steps, text):
    """The same quantity, a word that can be answered, limits where the verdict counts."""
    assert faults(*steps) == [("two", text)]


@pytest.mark.parametrize("first, second, where", [("metre", "bar", "one"), ("bar", "metre", "two")])
def test_an_unknown_unit_is_told_once_and_nothing_is_worked_out_from_it(first, second, where):
    """What would be compared with it is left alone, until its unit is mended."""
    found = faults(f"answer: {{value: held, unit: {first}}}", f"answer: {{value: later, unit: {second}, no_rise_from: held}}")
    assert [(step, text[:20]) for step, text in found] == [(where, 'unknown unit "metre"')]


OPENS = "answer: done, opens: {wait: rest, pressure: pressure, again: one}"


@pytest.mark.parametrize("pressure, opens, text", [
    (PRESSURE, OPENS.replace("wait: rest", "wait: soak"), 'opens must name a wait that protects a person, not "soak"'),
    (PRESSURE, OPENS.replace("wait: rest", "wait: rests"),
     'opens must name a wait that protects a person, not "rests"; did you mean "rest"?'),
    ("answer: {value: pressure, unit: bar, low: 5}", OPENS, 'pressure must name a pressure with a high limit, not "pressure"'),
    ("answer: {value: pressure, unit: mm, high: 5}", OPENS, 'pressure must name a pressure with a high limit, not "pressure"'),
])
def test_a_system_is_opened_after_its_wait_and_its_pressure(pressure, opens, text):
    """The wait must protect a person, and the pressure must have been read against a high limit."""
    assert faults("answer: done, starts: [rest]", "wait: rest", pressure, opens, head=WAIT) == [("four", text)]
    good = made("answer: done, starts: [rest]", "wait: rest", PRESSURE, OPENS, head=WAIT)
    assert good.step("four").opens.wait == "rest"


@pytest.mark.parametrize("steps, text", [
    (["answer: {value: torque, unit: N·m, nominal: 20, tolerance: 1, adaptor: {length: 42}}"],
     "an adaptor must stand with a nominal torque and the tool that pulls it"),
    ([WRENCH, "answer: {value: torque, unit: N·m, low: 19, high: 21, tool: wrench, adaptor: {length: 42}}"],
     "an adaptor must stand with a nominal torque and the tool that pulls it"),
    ([WRENCH, "answer: {value: length, unit: mm, nominal: 20, tolerance: 1, tool: wrench, adaptor: {length: 42}}"],
     "an adaptor must stand with a nominal torque and the tool that pulls it"),
    (["answer: {value: length, unit: mm, uncertainty: 0}"], "uncertainty must be above 0, not 0"),
    (["answer: {value: length, unit: mm, uncertainty: -0.5}"], "uncertainty must be above 0, not -0.5"),
    (["detail: 'Set {setting}.', answer: {value: torque, unit: N·m, nominal: 20, tolerance: 1}"],
     "{setting} must stand in a step whose value has an adaptor"),
    (["brief: 'Set {setting}.', answer: done"], "{setting} must stand in a step whose value has an adaptor"),
    ([CODES, SUSPECT], 'a card that asks for a cylinder must have the key "cylinders"'),
])
def test_an_instrument_is_given_whole(steps, text):
    """Adaptor, uncertainty, setting and cylinders each need what they are reckoned with."""
    assert faults(*steps) == [(("one", "two")[len(steps) - 1], text)]


@pytest.mark.parametrize("steps, found", [
    ([TURN], [("one", "bolt: Stage 1 is an angle with no snug torque before it.")]),
    ([SNUG, TURN, SNUG.replace("snug", "more").replace("8", "20")],
     [("three", "bolt: Stage 3 is a torque after an angle. Judge the bolt by the angle.")]),
    ([SNUG, SNUG.replace("snug", "again")], [("two", "bolt: Stage 2 is no tighter than the torque before it.")]),
    ([SNUG.replace("tolerance: 1", "tolerance: 8")], [("one", "bolt: Stage 1 has a tolerance that is not smaller than its value.")]),
    ([SNUG, TURN.replace("fastener: bolt", "fastener: nut")], [("two", "nut: Stage 1 is an angle with no snug torque before it.")]),
    ([SNUG, TURN.replace(", fastener: bolt", "")], [("two", "an angle must name its fastener, whose snug torque it counts from")]),
    (["answer: {value: snug, unit: N·m, low: 7, fastener: bolt}"],
     [("one", 'what tightens "bolt" must have a nominal, or a high limit')]),
    (["answer: {value: snug, unit: N·m, fastener: bolt}"], [("one", 'what tightens "bolt" must have a nominal, or a high limit')]),
])
def test_an_angle_follows_the_snug_torque_of_its_bolt(steps, found):
    """The stages of each bolt are held against the rules of tightening, each fault told once, at its own step."""
    assert faults(*steps) == found


@pytest.mark.parametrize("steps", [
    [SNUG, TURN], [SNUG, TURN, TURN.replace("turn", "last turn")], [SNUG, SNUG.replace("snug", "full").replace("8", "20"), TURN],
    [SNUG.replace("nominal: 8, tolerance: 1", "low: 7, high: 9"), TURN], [LOOM, OHMS, "answer: {fault: place, wiring: "
     "{answer: loom, sound: whole loom}, resistance: ohms}, then: {disagree: end}"],
    [CODES, SUSPECT, "answer: {codes: proof, proves: suspect}, then: {disagree: end, none: end}",
     "answer: {codes: after, against: [before], cleared: proof}, then: {ours: end, back: end}"],
    [WRENCH, "brief: 'Set {setting}.', answer: {value: torque, unit: N·m, nominal: 20, tolerance: 1, tool: wrench, "
     "adaptor: {length: -42, angle: 45}}"],
    [PRESSURE, "answer: {value: held, unit: psi, no_rise_from: pressure, reasons: [old gauge]}"],
    [CAPS, "answer: {count: again, same_as: caps}, then: {wrong: end}"],
])
def test_what_is_given_whole_is_no_fault(steps):
    """No false alarm on the ways in which these are meant to be written."""
    assert len(made(*steps, head=CYLINDERS).steps) == len(steps)


# -- acts ----------------------------------------------------------------------------------------------------------------

@pytest.mark.parametrize("before, answer, outcomes", [
    ((), "{tool: wrench, kind: torque wrench}", ["none"]),
    ((), "{fault: place}", ["disagree"]),
    ((CODES,), "{cylinder: suspect, codes: [before]}", ["disagree", "none"]),
    ((CODES, SUSPECT), "{cylinder: again, same_as: suspect}", ["disagree"]),
    ((CODES, SUSPECT), "{codes: proof, proves: suspect}", ["disagree", "none"]),
    ((CODES,), "{codes: after, against: [before]}", ["back", "ours"]),
    ((NUMBER,), "{spelling: again, same_as: number}", ["different"]),
])
def test_what_does_not_fit_leads_somewhere(before, answer, outcomes):
    """Without its branches a misfit would go on to the next step, as if all were well; each missing branch is told."""
    last = ("one", "two", "three")[len(before)]
    wanted = [f'the outcome "{outcome}" must lead somewhere: name it under then' for outcome in outcomes]
    assert faults(*before, f"answer: {answer}", head=CYLINDERS) == [(last, text) for text in wanted]
    then = "{" + ", ".join(f"{outcome}: end" for outcome in outcomes) + "}"
    assert made(*before, f"answer: {answer}, then: {then}", head=CYLINDERS).steps[-1].then[outcomes[0]] == "end"


def test_a_count_is_held_against_one_thing():
    """A number on the card, or an earlier count, or nothing: not both."""
    assert faults(CAPS, "answer: {count: again, must_be: 4, same_as: caps}") == [
        ("two", "a count must have must_be or same_as, not both")]
    assert faults(CAPS, "answer: {count: again, must_be: 0, same_as: caps}") == [
        ("two", "a count must have must_be or same_as, not both")]
    card = made(CAPS, "answer: {count: again, same_as: caps}", "answer: {count: rags, must_be: 6}")
    assert [step.answer for step in card.steps] == [CountOf("caps"), CountOf("again", None, "caps"), CountOf("rags", 6)]


def test_nothing_is_worked_out_from_a_personal_value():
    """It may be erased, and then a rise would pass unseen."""
    again = "answer: {value: again, unit: bar, high: 5, no_rise_from: pressure}"
    assert faults(f"{PRESSURE}, personal: true", again) == [
        ("two", 'no_rise_from: "pressure" is personal and may be erased, so nothing can be worked out from it')]


def test_the_last_characters_are_those_of_an_earlier_spelling():
    """"last" alone names nothing that could be repeated."""
    assert faults("answer: {spelling: number, last: 6}") == [
        ("one", "last must stand with same_as, whose last characters it means")]


def test_a_count_without_a_target_has_nothing_to_be_wrong_about():
    """Whatever is there is counted, so it cannot branch on "wrong"."""
    assert faults("answer: {count: caps}, then: {wrong: end}") == [
        ("one", 'then must name answers of this step (right), not "wrong"')]


# -- bolts round a circle --------------------------------------------------------------------------------------------------

def bolts(written: str) -> str:
    return f"lists: {{nuts: {written}}}\n"


def circle(written: str) -> Card:
    """A card with a step for each bolt."""
    text = text_of("answer: done", head=bolts(written)) + (
        "      - {for_each: nuts, steps: [{id: nut, say: 'Tighten {item}.', answer: done}]}\n")
    return load_card(text, "x")


def test_bolts_are_worked_in_cross_order_and_said_by_number():
    """Eight nuts go 1 5 3 7 2 6 4 8, opposite pairs in turn (common practice, no source)."""
    card = circle("{bolts: 8, called: nut}")
    said = [f"nut {number}" for number in "one five three seven two six four eight".split()]
    assert list(card.lists["nuts"]) == [step.item for step in card.steps if step.item] == said
    assert card.steps[2].say == "Tighten nut five."


@given(st.integers(2, 32))
def test_every_bolt_stands_once_in_the_order_of_the_trade(count):
    """The list of any circle holds each bolt once, in the order that torque.cross_order gives."""
    entries = circle(f"{{bolts: {count}, called: wheel bolt}}").lists["nuts"]
    assert len(set(entries)) == len(entries) == count and entries[0] == "wheel bolt one"
    assert len(set(cross_order(count))) == count and all(entry.startswith("wheel bolt ") for entry in entries)


@pytest.mark.parametrize("written, text", [
    ("{bolts: 1, called: nut}", 'bolts must be at least 2, not "1"'),
    ("{bolts: 33, called: nut}", 'bolts must be at most 32, not "33"'),
    ("{bolts: some, called: nut}", 'bolts must be a whole number, not "some"'),
    ("{bolts: 8}", 'the key "called" must stand here, but is missing'),
    ("{bolts: 8, called: nut, order: star}", 'unknown key "order"'),
    ("{bolts: 8, caled: nut}", 'unknown key "caled"; did you mean "called"?'),
    ("{bolts: 8, called: M8 nut}", 'list nuts: a voice stumbles over "M8"; write it in words, figures apart from letters'),
    ("nut one", 'nuts must be a list, not "nut one"'), ("[]", "nuts must have at least 1 entries, not 0"),
])
def test_a_faulty_circle_is_told(written, text):
    """A circle of 2 to 32 bolts, with what each is called."""
    with pytest.raises(CardErrors) as raised:
        circle(written)
    assert text in [fault.text for fault in raised.value.faults]
    assert {fault.line for fault in raised.value.faults} == {HEAD.count("\n") + 1}
