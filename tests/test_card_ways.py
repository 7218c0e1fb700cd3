"""The shipped cards, worked line by line on the simulated clock: the usual way, and every way off it."""
from __future__ import annotations

import pytest

from companion.core.events import NotUnderstood, Refused, StepBegun, StepEnded
from golden import CARD_OF, CARDS, SECONDS, SESSIONS, injector_at, lines_of, play
from simulator import Simulator


def visited(job: Simulator) -> list[str]:
    return [event.step for event in job.events if isinstance(event, StepBegun)]


def stopped(job: Simulator) -> bool:
    """Say done to whatever is left of the stop; whether that ends the job with the tag on the wheel."""
    while not job.job.done and job.job.step.stage == "stop here":
        job.say("next")
    return job.job.done and visited(job)[-2:] == ["tagged", "hand-over-unfinished"]


@pytest.mark.parametrize("session", sorted(path.stem for path in SESSIONS.glob("*.txt")))
def test_a_session_runs_from_first_word_to_last(session: str) -> None:
    """Every scripted line is understood and fits where it is said, none is left over, and the job is done."""
    job = Simulator((CARDS / f"{CARD_OF[session]}.yaml").read_text(encoding="utf-8"))
    lines = lines_of(session)
    play(job, lines[:-1])
    assert not job.job.done
    play(job, lines[-1:])
    assert job.job.done
    assert not job.kinds(NotUnderstood) + job.kinds(Refused)


def test_the_usual_way_takes_no_way_off() -> None:
    """On the usual way no repair, no second wait and no stop is met, and everything else is."""
    job = injector_at("sign-off").say("affirm")
    off = {step.id for step in job.job.card.steps} - set(visited(job))
    assert off == {"damage-agreed", "pressure-again", "seized-soak", "soak-wait", "seized-pull", "clamp-bolt-spent",
                   "code-again", "wrong-plug", "part-code-differs", "clear-again", "starter-hot", "starter-wait", "leak-engine-off", "leak-wait", "leak-pressure",
                   "leak-pressure-watch", "leak-pressure-held", "leak-pressure-again", "leak-key-held", "leak-where", "union-allowed", "union-retightened",
                   "new-pipe", "new-pipe-by-hand", "return-reseat", "seat-again", "learning-again", "not-a-pass",
                   "sprayed", "stop-unopened", "stop-unfinished", "openings-closed", "tagged", "hand-over-unfinished"}


# step, what is said there: each stops the job before anything is opened.
UNOPENED = (
    ("authority", ("negative",)), ("clamp-wrench", ("none of these",)), ("clamp-wrench", ("old wrench", "middle wrench", "none of these")),
    ("one-use-new", ("negative",)), ("first-look", ("leaking",)),
    ("suspect", ("they disagree",)), ("suspect", ("cylinder two",)),
    ("unplugged", ("second from the belt end", "key is off", "next", "key is off", "next", "fourth from the belt end")),
    ("induced-code", ("papa zero two zero two", "no more codes")), ("pins", ("damaged",)), ("induced-code", ("no codes",)),
    ("driver", ("flat line",)), ("driver", ("steady peaks", "next", "wiring")),
    ("driver", ("steady peaks", "next", "controller")), ("driver", ("steady peaks", "next", "cannot tell")),
    ("rail-pressure-held", ("two bar", "next", "11 min", "two bar", "45 s", "three bar", "next", "11 min", "nine bar")),
    ("rail-pressure", ("nine bar", "next", "11 min", "nine bar", "next", "11 min", "nine bar")),
)


@pytest.mark.parametrize(("step", "answers"), UNOPENED)
def test_a_disagreement_stops_before_anything_is_opened(step: str, answers: tuple[str, ...]) -> None:
    """Wrong cylinder, wrong cause, no authority, pressure that stays: the job ends tagged, with every joint closed."""
    job = injector_at(step)
    play(job, ["wait " + answer if answer.split()[-1] in SECONDS else answer for answer in answers])
    assert job.job.at == "stop-unopened"
    assert stopped(job)
    assert not {"crack-union", "rail-union", "openings-closed"} & set(visited(job))


# step, what is said there: each stops the job after opening, with every opening closed and the key held.
UNFINISHED = (
    ("injector-out", ("seized", "next", "wait 14 min", "seized")), ("seat-look", ("marked",)),
    ("part-as-ordered", ("negative",)),
    ("clamp-angle", ("ninety degrees", "affirm", "next", "eight", "ninety degrees", "affirm")),
    ("turn-by-hand", ("binding",)),
    ("code-entered", ("negative", "next", "next", "negative", "next", "next", "negative")),
    ("first-start", (*("not yet", "next", "wait 90 s", "keep hands clear", "clear of the belts") * 3, "not yet")),
    ("learned", ("negative", "next", "next", "wait 4 min", "clear of the belts", "next", "wait 6 min", "negative")),
    ("complaint-after", ("came back",)), ("codes-verdict", ("code came back",)),
    ("stored-after", ("papa zero two six nine", "no more codes")),
    ("pending-after", ("papa zero zero eight seven", "no more codes")),
    ("codes-cleared", ("papa zero two zero three", "no more codes", "next", "papa zero two zero three", "no more codes")),
    ("vehicle-again", ("zero zero four two one eight", "affirm")), ("sign-off", ("negative",)),
)


@pytest.mark.parametrize(("step", "answers"), UNFINISHED)
def test_what_cannot_be_finished_ends_safely(step: str, answers: tuple[str, ...]) -> None:
    """A seized injector, a bad seat, a wrong part, two spent bolts, no start, a complaint that came back."""
    job = play(injector_at(step), list(answers))
    assert job.job.at == "stop-unfinished"
    assert stopped(job)
    assert "openings-closed" in visited(job)


def test_a_spray_is_left_alone() -> None:
    """Fuel that sprays at the union: nobody touches it again (HSENI alert, 30 September 2014)."""
    job = injector_at("weep").say("spray")
    assert job.job.at == "sprayed" and "emergency" in job.last
    assert stopped(job)
    assert "caps-on" not in visited(job) and "openings-closed" not in visited(job)


MADE_SAFE = ["next", "wait 11 min", "zero bar", "wait 45 s", "zero bar", "next", "pressure gone", "gloves are on"]
COUNTED = ["twelve", "four", "two", "six"]
STARTED = ["next", "keep hands clear", "clear of the belts", "running", "lamp and mirror"]


def leak(where: str) -> list[str]:
    """From a leak found in the run to the repair."""
    return [f"leaking {where}", *MADE_SAFE, where]


def test_a_leaking_union_is_retightened_once_then_the_pipe_is_replaced_then_the_job_stops() -> None:
    """One retightening if the maker allows, run again, then a new pipe, run again, then hand over unfinished."""
    retightened = ["affirm", "face out of line", "twenty-three point one", *COUNTED, *STARTED]
    job = play(injector_at("leak-run"), leak("at the union") + retightened)
    assert job.job.at == "leak-run"
    play(job, leak("at the union"))
    assert job.job.at == "new-pipe"
    renewed = ["face out of line", "next", "next", "twenty-one point four", "twenty-one point four", "clear of the belts", "smooth"]
    play(job, [*renewed, *COUNTED, *STARTED])
    assert job.job.at == "leak-run"
    assert stopped(play(job, leak("at the union")))
    assert visited(job).count("union-retightened") == 1
    assert visited(job).count("enter-code") == 1


def test_no_retightening_without_the_makers_leave() -> None:
    """Where the maker does not allow it, the pipe is replaced at once."""
    job = play(injector_at("leak-run"), [*leak("at the union"), "negative"])
    assert job.job.at == "new-pipe"
    assert "union-retightened" not in visited(job)


def test_a_leaking_return_joint_gets_new_seals_and_the_job_stops_at_the_third_leak() -> None:
    """Reseat with a new seal, run again, twice at most."""
    job = injector_at("leak-run")
    for _ in range(2):
        play(job, [*leak("at the return joint"), "next", *COUNTED, *STARTED])
        assert job.job.at == "leak-run"
    assert stopped(play(job, leak("at the return joint")))


def test_a_leaking_seat_gets_a_new_washer_and_a_new_bolt() -> None:
    """The injector comes out again, with every safe step of the first time; the bolt is never pulled a second time."""
    job = play(injector_at("leak-run"), leak("at the seat"))
    assert job.job.at == "seat-again"
    begun = len(visited(job))
    usual = lines_of("injector-clean")
    again = usual[usual.index("pressure gone") - 2:]
    play(job, ["next", *again], until="new-washer")
    assert job.job.at == "new-washer"
    play(job, again[again.index("bright") + 7:], until="turn-by-hand")
    after = visited(job)[begun:]
    assert {"cover-union", "crack-union", "caps-on", "washer-out", "new-washer", "clamp-by-hand", "clamp-torque",
            "clamp-angle", "injector-union"} <= set(after)
    assert "part-code" not in after
    play(job, ["smooth", *COUNTED, *STARTED])
    assert job.job.at == "leak-run"
    assert stopped(play(job, leak("at the seat")))


@pytest.mark.parametrize(("step", "every"), [("leak-run", 60), ("hot-look", 60)])
def test_silence_stops_the_engine(step: str, every: int) -> None:
    """No answer within the card's 20 s is never a pass; dry all over leads to a whole new run."""
    job = injector_at(step).wait(every + 21)
    assert job.job.at == "leak-engine-off"
    play(job, [*MADE_SAFE, "dry all over", *COUNTED, *STARTED])
    assert job.job.at == "leak-run"


def test_a_hot_leak_goes_through_everything_again() -> None:
    """A leak found after the road test: repair, leak run, learning and road test all come again."""
    job = play(injector_at("hot-look"), [*leak("at the return joint"), "next", *COUNTED, *STARTED])
    assert job.job.at == "leak-run"
    begun = len(visited(job))
    usual = lines_of("injector-clean")
    play(job, usual[usual.index("running") + 2:])
    assert job.job.done
    assert {"leak-run", "covers", "learned", "set-off", "hot-look", "codes-verdict"} <= set(visited(job)[begun - 1:])


@pytest.mark.parametrize(("step", "wrong"), [("tools-back", "eleven"), ("caps-back", "three"), ("plugs-back", "one"),
                                             ("rags-back", "five"), ("washer-out", "two"), ("new-washer", "two")])
def test_a_wrong_count_holds_the_job(step: str, wrong: str) -> None:
    """A tool, cap, plug or rag left in, a second washer: the job stays at the count until it is right."""
    job = injector_at(step).say(wrong, "next", "leave out")
    assert job.job.at == step


@pytest.mark.parametrize("step", ["bleed-down-wait", "run-down-wait"])
def test_a_wait_that_protects_a_person_is_never_cut_short(step: str) -> None:
    """Neither ended nor left out."""
    job = injector_at(step).say("end the wait", "leave out")
    assert job.job.at == step


def test_covers_left_open_are_due_before_the_drive() -> None:
    """Covers may stay off for the learning; the card comes back to them before setting off."""
    job = injector_at("covers").say("leave open")
    usual = lines_of("injector-clean")
    play(job, usual[usual.index("wait 4 min") - 5:], until="covers")
    assert job.job.at == "covers" and visited(job)[-2] == "ready-to-drive"


@pytest.mark.parametrize(("step", "doubt", "again"), [
    ("injector-out", ("same mechanic", "negative", "affirm"), "key-out"),
    ("proof-plug-off", ("same mechanic", "negative"), "leak-off-stop")])
def test_a_doubt_after_a_break_makes_safe_again(step: str, doubt: tuple[str, ...], again: str) -> None:
    """Back after a break, unsure whether the key stayed out: the card goes back to making safe, not on."""
    job = injector_at(step).come_back(after=3600).say(*doubt)
    assert job.job.at == again


def test_the_road_hears_nothing_asked() -> None:
    """From setting off until the mechanic speaks again, only the end of the time is said."""
    job = injector_at("back")
    said = len(job.spoken)
    job.wait(45 * 60)
    assert job.since(said) == "The road test is over."
    assert [event.step for event in job.kinds(StepEnded)][-1] == "set-off"


def test_rusted_faces_and_a_fifth_wheel() -> None:
    """The wheel card sends rusted faces back to the brush, eight times at most, and takes four wheels at most."""
    text = (CARDS / "road-wheels.yaml").read_text(encoding="utf-8")
    usual = lines_of("road-wheels")
    job = play(Simulator(text), usual, until="faces")
    job.say(*("rusted", "next") * 8, "rusted")
    assert job.job.at == "stop-here"
    job = play(Simulator(text), usual, until="another-wheel")
    one_wheel = usual[usual.index("front left"):usual.index("negative")]
    for _ in range(3):
        play(job, ["affirm", *one_wheel])
        assert job.job.at == "another-wheel"
    assert job.say("affirm").job.at == "nuts-left"
