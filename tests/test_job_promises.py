"""The promises of a job, held against random mechanics: whatever is said in whatever order, these stay true."""
from __future__ import annotations

import ast
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import companion
from companion.core import events as ev
from companion.core.job.apply import apply
from companion.core.card import Nothing, RunOf, WaitOf
from companion.core.log.chain import Chain, replay
from companion.core.log.codec import decode, encode, vocabulary
from companion.core.commands import RULES, phrases
from companion.core.job.inputs import LogFailed, LogWritten, MemoTaken, SoundFound, SoundLost
from companion.core.job.listen import listen
from companion.core.sentences import sentences
from simulator import TO, at

_FIXED = st.sampled_from([text for rule in RULES.values() for text in phrases(rule)])
_OWN = st.sampled_from(["7.5", "nine", "three", "forty bar", "zero bar", "cylinder two", "papa zero two six three",
                        "alfa bravo", "alfa one bravo two", "pressure gone", "dry", "leaking at the union", "other reason",
                        "sixty pounds", "inch pounds", "correction 7.2", "timer two minutes", "", "purple elephants"])
_LIVE = st.integers(0, 10_000).map(lambda number: ("live", number))
_ACTS = st.one_of(
    st.tuples(st.just("say"), st.one_of(_FIXED, _OWN)), st.tuples(st.just("doubt"), st.one_of(_FIXED, _OWN)), _LIVE, _LIVE,
    st.tuples(st.just("wait"), st.integers(1, 300)), st.tuples(st.just("jump"), st.integers(1, 900)),
    st.tuples(st.just("mumble"), st.integers(1, 4)), st.tuples(st.just("back"), st.integers(0, 4000)),
    st.tuples(st.just("take"), st.sampled_from([
        LogFailed("the disk is full"), LogWritten(3), SoundLost("microphone"), SoundLost("loudspeaker"), SoundFound("microphone"), SoundFound("loudspeaker"),
        MemoTaken(1, "a.memo-1.flac", "00", 900, "the union was dry"), MemoTaken(2, fault="the disk is full")])))


def _do(job, act) -> None:
    kind, what = act
    if kind == "say":
        job.say(what)
    elif kind == "doubt":
        job.say(what, sure=False)
    elif kind == "live":  # something that makes sense now
        rules = listen(job.job).rules
        lines = list(sentences(rules[what % len(rules)], count=5)) if rules else [""]
        job.say(lines[what % len(lines)] if lines else "")
    elif kind == "back":
        job.come_back(what) if not job.job.done else None
    else:
        {"wait": job.wait, "jump": job.jump, "mumble": job.mumble, "take": job.take}[kind](what)


@settings(max_examples=120, deadline=None)
@given(st.sampled_from(sorted(TO)), st.lists(_ACTS, min_size=1, max_size=25))
def test_no_order_of_words_and_times_breaks_a_promise(step, acts):
    job = at(step, ear="test ear")
    for act in acts:
        _do(job, act)
    _memos_end(job)
    _waits_ran_their_time(job)
    _cautions_were_heard_and_answered(job)
    _protecting_steps_were_never_left_out(job)
    _runs_passed_only_on_answers(job)
    _replay_gives_the_same_state(job)


def _waits_ran_their_time(job) -> None:
    """A wait that protects a person ends only after its whole length, time away counted only where affirmed."""
    started, credit = {}, {}
    for event, now in zip(job.events, job.stamps):
        if isinstance(event, ev.ClockStarted):
            started[event.clock], credit[event.clock] = now.up_ms, 0
        elif isinstance(event, ev.JobResumed):
            started = {name: None for name in started}  # other time base; the simulator's own tests cover it
        elif isinstance(event, ev.WaitCutShort):
            assert job.job.card.clocks[event.clock].protects == "work"
        elif isinstance(event, ev.ClockEnded) and event.clock == "bleed-down" and started.get(event.clock):
            assert now.up_ms - started[event.clock] >= 240_000


def _cautions_were_heard_and_answered(job) -> None:
    ready = heard = False
    for event in job.events:
        if isinstance(event, ev.StepBegun) and event.step == "crack":
            ready = heard = False
        elif isinstance(event, ev.CautionHeard):
            heard = True
        elif isinstance(event, ev.CautionAcknowledged):
            assert heard
            ready, heard = True, False
        elif isinstance(event, ev.StepEnded) and event.step == "crack":
            assert ready


def _protecting_steps_were_never_left_out(job) -> None:
    for event in job.kinds(ev.StepLeftOut):
        assert not job.job.card.step(event.step).must


def _runs_passed_only_on_answers(job) -> None:
    answers: list[int] = []
    for event in job.events:
        if isinstance(event, ev.StepBegun):
            answers = []
        elif isinstance(event, ev.RunAnswered) and event.number and event.answer == "dry":
            answers.append(event.number)
        elif isinstance(event, ev.StepEnded) and isinstance(job.job.card.step(event.step).answer, RunOf):
            assert event.outcome != "good" or answers == [1, 2, 3]


def _memos_end(job) -> None:
    """No memo holds a job up: kept, lost, or lost by its time, each one once."""
    job.wait(90)
    begun = [event.memo for event in job.kinds(ev.MemoBegun)]
    ended = [event.memo for event in job.events if isinstance(event, (ev.MemoKept, ev.MemoLost))]
    assert begun == list(range(1, len(begun) + 1)) and ended == begun[:len(ended)]
    assert ended == begun or job.job.left


def _replay_gives_the_same_state(job) -> None:
    """Through the log's own codec: what is written is enough to stand where the mechanic stood."""
    again, known = None, vocabulary()
    for event, now in zip(job.events, job.stamps):
        data, beside = encode(event, lambda: b"0" * 16)
        texts = {entry["sha256"]: entry["text"] for entry in beside}
        again = apply(again, decode(type(event), event.step, data, texts), now)
    assert again == job.job
    assert all(type(event) in known.values() for event in job.events)


@pytest.mark.parametrize("same_boot", [True, False])
def test_a_power_cut_between_any_two_lines_leaves_a_job_that_goes_on_and_skips_nothing(same_boot):
    """Also within one decision, whose lines may reach the disk in part: the step that stood there is asked for again."""
    whole = at("watch").wait(60).say("dry").wait(30).say("leaking at the union", "next")
    for count in range(1, len(whole.events)):
        job = whole.cut(count)
        stood = job.job.at or "begin"
        job.come_back(30, same_boot)
        while job.job.proofs:
            job.say("same mechanic" if job.job.proofs[0] == "mechanic" else "affirm")
        begun = [event.step for event in job.events[count:] if isinstance(event, ev.StepBegun)]
        assert begun[0] == stood
        assert len(begun) == 1 or isinstance(job.job.card.step(stood).answer, (Nothing, WaitOf)), "only these end by themselves"
        while job.job.cautions:
            job.say(job.job.card.cautions[job.job.cautions[0]].answer)
        assert job.job.mode in ("asking", "waiting", "watching")
        assert job.wait(600).job.mode == "asking", "no clock stands still"


# -- the core is pure --------------------------------------------------------------------------------------------------

_PURE = {"__future__", "abc", "collections", "contextlib", "copy", "dataclasses", "decimal", "difflib", "enum", "fractions", "functools",
         "graphlib", "hashlib", "itertools", "json", "math", "operator", "re", "string", "types", "typing", "unicodedata",
         "datetime", "base64", "binascii", "heapq", "bisect", "calendar", "statistics"}
_LIBRARIES = {"pydantic", "pydantic_core", "yaml", "rfc8785", "orjson", "cryptography", "annotated_types"}


def _imports(path: Path) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            found.add(node.module or "")
    return found


def _calls(path: Path) -> set[str]:
    calls = [node.func for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))) if isinstance(node, ast.Call)]
    return {getattr(call, "id", getattr(call, "attr", "")) for call in calls}


def test_dependencies_point_inward_and_the_core_is_pure():
    """trade imports only itself and the errors; core no I/O, clock, thread or randomness; neither edge nor office."""
    package = Path(companion.__file__).parent
    for layer, own, libraries in (("trade", ("companion.trade", "companion.errors"), set()),
                                  ("core", ("companion.core", "companion.trade", "companion.errors"), _LIBRARIES)):
        for path in (package / layer).rglob("*.py"):
            for name in _imports(path):
                inside = name.startswith(own)
                assert inside or name.split(".")[0] in _PURE | libraries, f"{path}: {name}"
            assert not _calls(path) & {"open", "now", "today", "utcnow", "input", "print", "exec", "eval"}, path
    for path in (package / "edge").rglob("*.py"):
        assert not any(name.startswith("companion.office") for name in _imports(path)), path
