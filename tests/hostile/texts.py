"""Hostile texts: job cards, lists of measuring tools, what is typed in a job, what is given to `companion work`."""
from __future__ import annotations

import shlex
from contextlib import redirect_stderr, redirect_stdout
from datetime import date
from functools import lru_cache
from io import BytesIO, TextIOWrapper
from random import Random
from typing import Sequence

from golden import card, lines_of
from hostile import Target
from hostile.bounds import PROJECT, fit_for_terminal
from hostile.changing import bytewise, cardwise, linewise, word
from simulator import EVERY_KIND, TOOLS, Simulator

from companion.__main__ import main
from companion.core.card import Card, CardErrors, load_card
from companion.core.toolbox import is_tool_list, load_tools
from companion.edge.sessions import waiting
from companion.edge.work import COMMANDS
from companion.errors import BadInput, CompanionError
from companion.office.trusted import load_trusted

_DAY = date(2026, 11, 28)
SMALL = """\
card: 1
id: nut
title: One nut
version: "1"
practice: true
applies_to: any nut
defers: Invented figures. Follow the maker's data.
emergency: Step back.
clocks:
  rest: {kind: wait, lasts: 1 min, say: the rest, protects: work, reasons: [in a hurry]}
cautions:
  fingers: {say: Fingers clear., answer: fingers clear, source: invented}
stages:
- stage: nut
  steps:
  - {id: look, say: Look at the nut., answer: {choice: [dry, leaking], name: look}, then: {leaking: look}, at_most: 2,
     after_that: turn}
  - {id: turn, say: Turn it., cautions: [fingers], hazardous: true, answer: {value: torque, unit: N·m, low: 7, high: 8},
     starts: [rest]}
  - {id: rest, wait: rest}
  - {id: name, say: Spell your name., answer: {spelling: mechanic}}
"""
"""A card of a few lines, so that a change is likely to matter."""


def _read(data: bytes) -> str:
    return data.decode("utf-8", "replace").replace("\r\n", "\n")


def feed_card(data: bytes) -> None:
    """Read it strictly and as an old log's card; a card without faults is worked, an answer of each kind a step."""
    text = _read(data)
    for checked in (True, False):
        try:
            made = load_card.__wrapped__(text, "card.yaml", checked)
        except CardErrors as error:
            _said(error, data)
            continue
        if checked:
            _work(made)
    if is_tool_list(text):
        feed_tools(data)


def _said(error: CompanionError, data: bytes) -> None:
    said = str(error)
    assert said and len(said) < 100_000, f"a message must be short, not {len(said)} characters for a card of {len(data)}"


def _work(made: Card) -> None:
    job = Simulator(made.text, tools=TOOLS)
    for line in ("next", "affirm", "seven point five", "alfa one bravo two", "cylinder two", "no codes", "dry", "previous step",
                 "options", "detail", "stop job", "affirm"):
        caution = made.cautions.get(job.job.cautions[0]) if job.job.cautions else None
        job.say(caution.answer if caution else line)
        job.wait(300)


def feed_tools(data: bytes) -> None:
    """Read it as of one day, and ask each tool whether it can measure something."""
    try:
        found = load_tools.__wrapped__(_read(data), "tools.yaml", _DAY)
    except BadInput as error:
        _said(error, data)
        return
    for tool in found.tools:
        assert found.of_kind(tool.kind) and found.get(tool.name)


def feed_trusted(data: bytes) -> None:
    """A supervisor's list of trusted keys; how each key stands on some days."""
    try:
        found = load_trusted.__wrapped__(_read(data), "office/trusted-keys.yaml")
    except BadInput as error:
        _said(error, data)
        return
    for one in found.keys:
        for day in ("0001-01-01", one.since, "2026-11-28T10:00:00.000Z", "9999-12-31"):
            assert found.standing(one.key, day).said


@lru_cache(maxsize=4)
def _begun(place: int) -> Simulator:
    return Simulator(EVERY_KIND if place else card("road-wheels"))


def feed_said(data: bytes) -> None:
    """What is typed in a job, line by line: anything may be said at any moment. The first byte chooses the card."""
    job = _begun(data[0] % 2 if data else 0).cut(10**6)
    for line in data[1:4000].decode("utf-8", "replace").split("\n")[:60]:
        ms = waiting(line)
        if ms is None:
            job.say(line[:400])
        else:
            job.wait(min(ms / 1000, 1e4))
        if job.job.mode == "ended":
            break


@lru_cache(maxsize=None)
def _questions() -> tuple[str, ...]:
    return tuple(example.removeprefix("companion ").strip() for command in COMMANDS for example in command.examples)


def feed_work(data: bytes) -> None:
    """Arguments of `companion work`, as a shell would split them."""
    try:
        argv = [part for part in shlex.split(data[:2000].decode("utf-8", "replace"))[:40] if part not in ("--say",)]
    except ValueError:
        return
    command([*argv] if argv[:1] == ["work"] else ["work", *argv])


def command(argv: Sequence[str]) -> tuple[int, str, str]:
    """Run one command in this process. Raises whatever it raises but a clean end; exit code, what it printed to both sides."""
    out, err = TextIOWrapper(BytesIO(), "utf-8", newline=""), TextIOWrapper(BytesIO(), "utf-8", "backslashreplace", newline="")
    with redirect_stdout(out), redirect_stderr(err):
        try:
            code = main([part.replace("\0", "") for part in argv])
        except SystemExit as end:
            code = end.code
    assert code in (0, 1, 2), f"the exit code must be 0, 1 or 2, not {code!r}"
    said = [_written(side) for side in (out, err)]
    for text in said:
        fit_for_terminal(text)
    return code, *said


def _written(side: TextIOWrapper) -> str:
    side.flush()
    return side.buffer.getvalue().decode("utf-8")


def _cards() -> list[bytes]:
    texts = [SMALL, EVERY_KIND, card("learning"), card("road-wheels")]
    texts += [path.read_text("utf-8") for path in sorted((PROJECT / "tests" / "cases" / "cards").glob("*.yaml"))[:40]]
    return [text.encode() for text in texts]


def _lists() -> list[bytes]:
    one = "tool_list: 1\npractice: true\ntools:\n- {name: my wrench, kind: torque wrench, unit: N·m, low: 5, high: 25, " \
          "iso_class: II A, calibrated: 90 days ago, months: 12, uses: 10}\n"
    return [one.encode(), TOOLS.encode()]


def _trusted() -> list[bytes]:
    keys = "".join(f"  - {{key: {place:064x}, name: van {place}, from: 2026-01-0{place}, revoked: 2026-06-01, why: stolen}}\n"
                   for place in (1, 2, 3))
    return [f"trusted_keys: 1\nkeys:\n{keys}".encode(), b"trusted_keys: 1\nkeys: []\n"]


def typewise(data: bytes, chance: Random) -> bytes:
    """Lines of a session moved about, with strange words between them."""
    if chance.random() < 0.3:
        lines = data.split(b"\n")
        lines.insert(chance.randint(1, len(lines)), word(chance).encode("utf-8", "replace")[:300])
        return b"\n".join(lines)
    return chance.choice((linewise, linewise, bytewise))(data, chance)


def _sessions() -> list[bytes]:
    return [bytes([place]) + "\n".join(lines_of(name)[:60]).encode() for place, name in
            ((0, "road-wheels"), (1, "injector-clean"), (1, "learning"))]


def argwise(data: bytes, chance: Random) -> bytes:
    """One argument of a command line is another."""
    try:
        parts = shlex.split(data.decode("utf-8", "replace"))
    except ValueError:
        return bytewise(data, chance)
    if not parts or chance.random() < 0.2:
        return bytewise(data, chance)
    at = chance.randrange(len(parts))
    parts[at] = chance.choice((word(chance), parts[at] + word(chance), chance.choice(parts), parts[at][:-1]))[:300]
    return shlex.join(parts).encode("utf-8", "replace")


TARGETS = (Target("card", _cards, cardwise, feed_card), Target("tools", _lists, cardwise, feed_tools),
           Target("trusted", _trusted, cardwise, feed_trusted),
           Target("said", _sessions, typewise, feed_said),
           Target("work", lambda: [line.encode() for line in _questions()], argwise, feed_work))
