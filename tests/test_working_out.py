"""What the companion works out on a job: tools, doubtful values, cylinders, faults, codes, spellings, closed lines."""
from __future__ import annotations

from decimal import Decimal

import pytest
from simulator import TOOLS, Simulator
from test_card_ways import CARDS, injector_at, lines_of, play

from companion.core import events as ev
from companion.core.log.codec import decode, encode, name_of, vocabulary

INJECTOR = (CARDS / "common-rail-injector.yaml").read_text(encoding="utf-8")


def one(job: Simulator, kind: type[ev.Event]) -> ev.Event:
    """The last event of a kind."""
    return job.kinds(kind)[-1]


# -- tools -------------------------------------------------------------------------------------------------------------

@pytest.mark.parametrize(("tool", "why", "said"), [
    ("middle wrench", "below range", "The middle wrench starts at twenty"),
    ("old wrench", "out of date", "The calibration of the old wrench ended on"),
])
def test_an_unfit_wrench_is_refused_with_the_reason_and_what_would_do(tool: str, why: str, said: str) -> None:
    """A wrench that does not reach down to the first stage, or is out of date, is named, with one that would do.

    The trade fact behind it (a digital wrench from 6.8 N·m, a 4 N·m first stage): common practice, no source."""
    job = injector_at("clamp-wrench").say(tool)
    judged = one(job, ev.ToolJudged)
    assert job.job.at == "clamp-wrench"
    assert (judged.verdict, judged.why, judged.would_do) == ("unfit", why, ("short wrench",))
    assert said in job.last and "Use the short wrench, or say another." in job.last


def test_pulls_of_this_job_count_towards_the_calibration() -> None:
    """ISO 6789, seen second-hand: 12 months or 5000 operations, whichever comes first. The 5000th is the last."""
    worn = TOOLS.replace("uses: 640", "uses: 4999")
    job = Simulator(INJECTOR, tools=worn)
    play(job, lines_of("injector-clean"), until="injector-union")
    assert job.job.tool_uses == {"short wrench": 1, "hand meter": 1}
    job.say("previous step", "previous step", "previous step", "previous step")
    assert one(job, ev.ToolJudged).verdict == "fit"
    spent = Simulator(INJECTOR, tools=TOOLS.replace("uses: 640", "uses: 5000"))
    play(spent, lines_of("injector-clean"), until="clamp-wrench").say("short wrench")
    assert one(spent, ev.ToolJudged).why == "used up"
    assert "No other on the list will do" in spent.last


def test_a_crow_s_foot_changes_the_setting_and_the_reading() -> None:
    """Tw = Ta·L/(L + A): 24 × 340 / (340 + 42) = 21.36 (statics); the reading is judged as torque at the bolt."""
    job = injector_at("injector-union")
    assert "Set the wrench to twenty one point four newton metres" in job.last
    job.say("twenty-one point four")
    logged = one(job, ev.ValueLogged)
    assert (logged.said, logged.value, logged.verdict) == ("21.4", "24.0", "inside")
    assert (logged.arm, logged.adaptor, logged.adaptor_angle) == (340, 42, 0)
    assert logged.tool == "middle wrench"


def test_the_wrench_s_reading_alone_would_have_passed_a_wrong_torque() -> None:
    """24 shown on the wrench is 27 at the union: outside, although the card's figure is 24."""
    job = injector_at("injector-union").say("twenty-four")
    assert job.job.asked.about == "outside"


# -- too close to call -------------------------------------------------------------------------------------------------

def test_a_value_too_close_to_call_is_measured_again_or_kept_with_a_reason() -> None:
    """ISO 14253-1:2017 (text from memory): within 0.82 U of a limit neither conformance nor its lack is shown.
    Here U is 3 % of 8.4 N·m, so the zone begins at 8.5 − 0.207."""
    job = injector_at("clamp-torque").say("eight point four")
    assert job.job.asked.about == "too close" and "Inside, but only just: too close to call" in job.last
    job.say("reading checked twice", "affirm")
    logged = one(job, ev.ValueLogged)
    assert (logged.verdict, logged.side, logged.reason) == ("too close", "inside", "reading checked twice")
    assert logged.uncertainty == Decimal("0.252") and Decimal("0.78") < logged.probability < Decimal("0.79")
    assert job.job.at == "clamp-angle"


def test_a_safety_limit_passes_only_what_is_surely_inside() -> None:
    """Three bar under a limit of four, known to two bar only, is not shown to be safe: the wait begins again."""
    job = injector_at("rail-pressure").say("three bar")
    assert one(job, ev.ValueLogged).verdict == "too close"
    assert job.job.at == "pressure-again"
    assert "Inside, but only just." in job.since(0)


# -- the line stays closed ---------------------------------------------------------------------------------------------

def test_any_rise_after_the_wait_starts_it_anew() -> None:
    """Trapped fuel builds pressure again as it warms (common practice, no source): one bar more is a rise."""
    job = injector_at("rail-pressure").say("zero bar").wait(45).say("one bar")
    logged = one(job, ev.ValueLogged)
    assert (logged.verdict, logged.rose_from) == ("outside", 0)
    assert job.job.at == "pressure-again"


def test_a_line_is_opened_only_after_the_wait_and_the_reading() -> None:
    """Where a card's ways lead to the opening without both, the companion keeps the line closed and goes back."""
    way_round = INJECTOR.replace("then: {inside: rail-pressure-watch, outside: pressure-again}",
                                 "then: {inside: key-held, outside: pressure-again}")
    job = play(Simulator(way_round), lines_of("injector-clean"), until="rail-pressure")
    job.say("zero bar", "next", "gloves are on", "next")
    closed = one(job, ev.LineKeptClosed)
    assert (closed.why, closed.again) == ("no reading", "key-out")
    assert job.job.at == "key-out"
    assert "Keep the line closed. No pressure was read after the wait." in job.since(0)


def test_a_reading_before_a_new_wait_no_longer_counts() -> None:
    """Key out again starts the wait again, and only what is read after it counts."""
    job = injector_at("clean-around")
    assert "rail pressure held" in job.job.read_after["bleed-down"]
    job.say("previous step")
    while job.job.at != "key-out":
        job.say("previous step")
    job.say("next")
    assert "rail pressure held" not in job.job.read_after.get("bleed-down", ())


# -- cylinder and fault ------------------------------------------------------------------------------------------------

@pytest.mark.parametrize(("codes", "said", "outcome", "why"), [
    ((), "cylinder three", "agree", ""),
    (("papa zero three zero zero",), "cylinder three", "agree", ""),
    (("papa zero two six six",), "cylinder three", "disagree", "The codes name cylinder 2."),
    (("papa zero two six six", "papa zero two six nine"), "cylinder three", "disagree", "The codes name cylinders 2 and 3."),
    (("papa zero two six nine",), "cylinder two", "disagree", "You say cylinder two, but cylinder three was found."),
    (("papa zero two six nine",), "they disagree", "none", ""),
])
def test_codes_and_readings_must_point_to_the_cylinder_that_is_said(codes, said, outcome, why) -> None:
    """P0266 and P0269 are contribution or balance of cylinders 2 and 3 (two public lists agree); P0300 names none, so
    the readings must."""
    usual = lines_of("injector-clean")
    place = usual.index("papa zero two six nine")
    job = Simulator(INJECTOR)
    play(job, usual[:place] + list(codes) + usual[place + 1:usual.index("cylinder three")] + [said])
    assert one(job, ev.EvidenceCompared).verdict == outcome
    assert why in (*one(job, ev.EvidenceCompared).why, "")
    assert (job.job.at == "proof-rest") == (outcome == "agree")
    if outcome != "agree":
        assert job.job.at == "stop-unopened"


def test_readings_that_point_nowhere_do_not_prove() -> None:
    """No code names a cylinder, and none stands out: nothing points to one, whatever is said."""
    usual = lines_of("injector-clean")
    lines = [{"nine point eight milligrams per stroke": "six point three", "sixty-one millilitres": "twenty-five"}.get(
        line, line) for line in usual[:usual.index("cylinder three")] if line != "papa zero two six nine"]
    job = play(Simulator(INJECTOR), [*lines, "cylinder three"])
    assert job.job.at == "stop-unopened"
    assert one(job, ev.ReadingsCompared).outlier == ""


def test_what_keeps_the_card_s_limit_but_is_unusual_is_said() -> None:
    """22 24 23 61 under a limit of three times the smallest (common practice, no source): the limit names none, Grubbs and
    the median absolute deviation both name the last (recomputed)."""
    wide = INJECTOR.replace("most_ratio: 2.5", "most_ratio: 3")
    usual = lines_of("injector-clean")
    job = play(Simulator(wide), usual[:usual.index("cylinder three") + 1])
    assert "Leak-off: none stands out, but cylinder three is unusual." in job.since(0)
    assert job.job.at == "proof-rest", "the quantities still point to it"


@pytest.mark.parametrize(("returned", "outcome"), [
    (("papa zero two zero three",), "agree"), (("papa zero two zero two",), "disagree"),
    (("papa zero two zero three", "papa zero two zero two"), "disagree"), (("papa zero zero eight seven",), "disagree")])
def test_the_induced_code_must_name_the_plug_that_is_off(returned: tuple[str, ...], outcome: str) -> None:
    """Unplug one, run, and that cylinder's circuit code is stored (trade fact: common practice, no source)."""
    job = injector_at("induced-code").say(*returned, "no more codes")
    assert one(job, ev.EvidenceCompared).verdict == outcome
    assert job.job.at == ("proof-key-off" if outcome == "agree" else "stop-unopened")


def test_a_complaint_that_was_itself_the_circuit_code_is_said_to_prove_less() -> None:
    """Complaint code, position unplugged and code returned agree; that the code is not new is said and logged."""
    usual = ["papa zero two zero three" if line == "papa zero two six nine" else line for line in lines_of("injector-clean")]
    job = play(Simulator(INJECTOR), usual, until="induced-code")
    job.say("papa zero two zero three", "no more codes")
    found = one(job, ev.EvidenceCompared)
    assert (found.verdict, found.why) == ("agree", ("The circuit code of cylinder 3 was stored before the test.",))
    assert "The circuit code of cylinder three was stored before the test." in job.since(0)


@pytest.mark.parametrize(("ohms", "driver", "said", "at"), [
    ("one point six", "steady peaks", "injector", "key-out"), ("one point six", "steady peaks", "wiring", "stop-unopened"),
    ("one point six", "steady peaks", "cannot tell", "stop-unopened")])
def test_the_fault_that_is_said_must_be_the_one_found(ohms: str, driver: str, said: str, at: str) -> None:
    """Clean pins, steady peaks and a sound coil leave the injector; any other judgement stops the job."""
    job = injector_at("coil").say(ohms, "clear of the belts", "next").wait(25)
    job.say("next", "papa zero two zero three", "no more codes", "next").wait(40)
    job.say("key is off", "next", "clear of the belts", driver, "next", said)
    assert job.job.at == at


# -- codes before and after --------------------------------------------------------------------------------------------

def test_our_own_code_must_be_gone() -> None:
    """The code that our test made is ours, not the van's: still there at the end, it stops the hand-over."""
    job = injector_at("stored-after").say("papa zero two zero three", "no more codes")
    assert one(job, ev.CodesCompared).ours_left == ("P0203",)
    assert job.job.at == "stop-unfinished" and "Our own is still there" in job.since(0)


def test_a_code_that_came_back_differs_from_one_that_never_left() -> None:
    """Gone right after clearing and there again after the drive: it came back. There all the time: still there."""
    job = injector_at("stored-after").say("papa zero two six nine", "papa zero zero eight seven", "no more codes")
    compared = one(job, ev.CodesCompared)
    assert (compared.came_back, compared.still_there, compared.new) == (("P0269",), (), ("P0087",))
    job = injector_at("codes-cleared").say("papa zero two six nine", "no more codes")
    assert one(job, ev.CodesCompared).still_there == ("P0269",)
    assert job.job.at == "clear-again"


def test_a_letter_in_a_figure_s_place_is_repaired_and_read_back() -> None:
    """No fault code holds the letter O in a figure's place; what is taken is read back in spelling words."""
    job = injector_at("codes-before").say("papa oscar two six nine")
    assert job.job.codes == ("P0269",) and "Papa zero two six nine." in job.last


# -- spellings and counts ----------------------------------------------------------------------------------------------

def test_a_vehicle_number_is_held_to_its_structure_and_its_check_character_only_warns() -> None:
    """17 characters without I, O and Q (49 CFR 565.15). 1G4AH59H45G118331: the published sample with its last place but
    one changed, so that the check digit is wrong; it is said, and the number is taken all the same."""
    job = injector_at("vehicle").say("1G4AH59H45G11833")
    assert job.job.at == "vehicle"
    job.say("1G4AH59H45G118331")
    assert "Its check character does not fit." in job.last
    job.say("affirm")
    assert one(job, ev.VinChecked).verdict == "does not fit" and job.job.at == "complaint"
    job = injector_at("vehicle").say("1G4AH59H45G118341", "affirm")
    assert one(job, ev.VinChecked).verdict == "fits"


def test_the_part_s_code_is_spelled_twice_and_compared() -> None:
    """One character that differs is named by its place, and the code is spelled anew."""
    job = injector_at("part-code-again").say("seven kilo two november fife echo", "affirm")
    assert one(job, ev.SpellingsCompared).places == ("5",)
    assert "It differs from the first at place five." in job.since(0) and job.job.at == "part-code-differs"
    job.say("seven kilo two november fife echo", "affirm", "seven kilo two november fife echo", "affirm")
    assert job.job.at == "part-number" and job.job.answers["part code"] == "7K2N5E"


def test_a_spelling_with_nothing_to_compare_is_never_a_pass() -> None:
    """The first spelling was left out: the second cannot show that it is the same."""
    job = injector_at("vehicle").say("leave out", "other reason", "affirm")
    usual = lines_of("injector-clean")
    play(job, usual[usual.index("rough idle"):], until="vehicle-again")
    job.say("zero zero four two one seven", "affirm")
    assert one(job, ev.SpellingsCompared).verdict == "different" and job.job.at == "stop-unfinished"
    assert "There is no first one to compare it with." in job.since(0)


def test_as_many_rags_as_went_out_must_come_back() -> None:
    """However many were laid out, that many are asked back."""
    usual = lines_of("injector-clean")
    place = usual.index("six")
    job = Simulator(INJECTOR)
    play(job, usual[:place] + ["nine"] + usual[place + 1:], until="rags-back")
    job.say("six")
    assert job.job.at == "rags-back" and "It must be nine." in job.last
    assert job.say("nine").job.at != "rags-back"


# -- the log -----------------------------------------------------------------------------------------------------------

def test_every_worked_out_fact_survives_the_log_s_form() -> None:
    """Each event of three jobs that use them all, written as plain data and read back, is the same event."""
    seen = set()
    for session in ("injector-clean", "injector-wrench-out-of-range", "injector-too-close", "injector-pressure-rose"):
        for event in play(Simulator(INJECTOR), lines_of(session)).events:
            data, beside = encode(event, lambda: b"0" * 16)
            texts = {entry["sha256"]: entry["text"] for entry in beside}
            assert decode(vocabulary()[name_of(type(event))], event.step, data, texts) == event
            seen.add(type(event))
    assert {ev.ToolJudged, ev.ReadingsCompared, ev.EvidenceCompared, ev.CodesCompared, ev.SpellingsCompared,
            ev.VinChecked} <= seen


def test_the_card_s_uncertainty_holds_where_the_tool_list_gives_none() -> None:
    """A tool without a certificate does not make a reading certain: the card's own figure counts."""
    bare = TOOLS.replace("iso_class: II A, uncertainty_percent: 3,\n     arm: 210", "arm: 210")
    card = INJECTOR.replace("tool: clamp wrench, fastener", "uncertainty: 0.4, tool: clamp wrench, fastener")
    job = play(Simulator(card, tools=bare), lines_of("injector-clean"), until="clamp-torque").say("eight point four")
    assert job.job.asked.about == "too close"
