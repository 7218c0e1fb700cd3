"""The screen of a live job: what it shows, that it fits, and that only what has changed is written."""
from __future__ import annotations

import io
import re
import threading
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pyte
import pytest
from hypothesis import given, settings, strategies as st
from rich.color import ColorSystem
from rich.text import Text

from companion.core.card import RunOf, WaitOf
from companion.core.events import Hearing, NotUnderstood
from companion.core.job.effects import Hush, Say, Tone
from companion.core.job.inputs import Heard, LoneTerms, Tick, Unheard
from companion.core.job.listen import listen
from companion.core.job.state import Job, Running
from companion.edge.clock import SimulatedClock
from companion.edge.mouth import PrintedMouth
from companion.edge.screen import Lines, Screen, screen_for
from companion.edge.screen.board import Board, Counting, Noticed, board
from companion.edge.screen.display import LEAST_S, Painter
from companion.edge.screen.layout import Look, lay_out, minutes
from companion.edge.screen.letters import DOTS_HIGH, GLYPHS, Size, dots, drawn, large, sizes, spelled
from companion.edge.screen.terminal import frame, simpler
from companion.edge.screen.wrapping import wrapped
from simulator import EVERY_KIND, Simulator

CARDS = Path(__file__).parent.parent / "checklists"
LEARNING = (CARDS / "learning.yaml").read_text(encoding="utf-8")
INJECTOR = (CARDS / "common-rail-injector.yaml").read_text(encoding="utf-8")
TICK_BYTES = 300
"""What one second on a clock may cost: a third of a second at 9600 baud."""


def read(rows: list[str]) -> str:
    """Large letters of the smallest size as text again, dot by dot: what a reader who knows the letters sees."""
    words = []
    lines = _dot_lines(rows)
    for line in lines:
        width = max(map(len, line))
        line, at, text = [row.ljust(width, ".") for row in line], 0, ""
        while at < width:
            fits = [letter for letter, glyph in GLYPHS.items() if letter != " " and _stands(glyph, line, at)]
            if not fits:
                at, text = at + 1, text + " "
                continue
            letter = max(fits, key=lambda letter: len(GLYPHS[letter][0]))
            at, text = at + len(GLYPHS[letter][0]) + 1, text + letter
        words += re.sub(r" {2,}", "  ", text).split("  ")
    return re.sub(r"\s+", " ", " ".join(words)).strip()


def _dot_lines(rows: list[str]) -> list[list[str]]:
    if any("#" in row for row in rows):
        return [[row.replace(" ", ".") for row in rows[at:at + DOTS_HIGH]] for at in range(0, len(rows), DOTS_HIGH + 1)]
    upper, lower = str.maketrans("█▀▄ ", "##.."), str.maketrans("█▀▄ ", "#.#.")
    tall = [half for row in rows for half in (row.translate(upper), row.translate(lower))]
    return [tall[at:at + DOTS_HIGH] for at in range(0, len(tall), DOTS_HIGH + 1)]


def _stands(glyph: tuple[str, ...], line: list[str], at: int) -> bool:
    """The glyph at `at`, with the gap after it."""
    wide = len(glyph[0])
    return all(row[at:at + wide].ljust(wide, ".") == dots and row[at + wide:at + wide + 1] in ("", ".")
               for row, dots in zip(line, glyph))


class Terminal:
    """A terminal in memory, 80 by 24 unless said otherwise, and how many bytes came over the line."""

    def __init__(self, columns: int = 80, rows: int = 24) -> None:
        self.screen, self.bytes = pyte.Screen(columns, rows), 0
        self._stream = pyte.Stream(self.screen)

    def feed(self, text: str) -> int:
        self._stream.feed(text)
        self.bytes += len(text.encode())
        return len(text.encode())

    @property
    def lines(self) -> list[str]:
        return self.screen.display


def painter(blocks: bool = True) -> Painter:
    return Painter("utf-8" if blocks else "ascii", blocks, ColorSystem.STANDARD if blocks else None)


def at_step(text: str, step: str, **but: object) -> Job:
    return Simulator(text).job.but(at=step, begun=True, cautions=(), **but)


def shown(job: Job, up_ms: int = 0, **more: object) -> Board:
    return board(job, up_ms, listen(job), **more)


# -- letters -----------------------------------------------------------------------------------------------------------

def test_every_letter_is_five_dots_high_and_like_no_other():
    """A letter drawn askew, or twice, would be misread."""
    assert all(len(rows) == DOTS_HIGH and len({len(row) for row in rows}) == 1 for rows in GLYPHS.values())
    assert all(set("".join(rows)) <= {"#", "."} for rows in GLYPHS.values())
    assert len({rows for letter, rows in GLYPHS.items() if letter not in " "}) == len(GLYPHS) - 1
    assert set("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789 .,:;?!'-/") <= set(GLYPHS)


@pytest.mark.parametrize("blocks", [True, False])
@settings(max_examples=15, deadline=None)
@given(st.lists(st.text("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789", min_size=1, max_size=8), min_size=1, max_size=5))
def test_large_letters_can_be_read_back(blocks, words):
    """What is drawn is what was written, whatever the words."""
    text = " ".join(words)
    assert read(large(text, 80, 1000, Size(1, 1, blocks))) == text


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=60), st.integers(1, 120), st.sampled_from(sizes(True) + sizes(False)))
def test_large_letters_never_stand_over_the_edge(text, columns, size):
    """Rows are as many as the size says, and none is too wide; what cannot be drawn is not drawn at all."""
    rows = large(text, columns, 1000, size)
    if rows is not None:
        assert all(len(row) <= columns for row in rows) and len(rows) % size.rows == 0


@pytest.mark.parametrize("text, letters", [
    ("Élan vital", "ELAN VITAL"), ("won’t — “now”", "WON'T - \"NOW\""), ("10² bar", None), ("½ turn", None),
    ("압력", None)])
def test_letters_that_are_not_there_are_never_guessed(text, letters):
    """A dropped accent still reads the same; ten squared must not become a hundred and two."""
    assert spelled(text) == letters


def test_lines_of_one_size_stand_apart():
    """A line of letters is as high as `Size.rows` says, so that lines never touch."""
    for size in sizes(True) + sizes(False):
        rows = list(drawn("HE", size))
        assert len(rows) == size.rows and (size.halves or rows[-1] == "")
        assert max(map(len, rows)) == dots("HE") * size.across


@given(st.text(max_size=80), st.integers(1, 30))
def test_wrapping_keeps_every_word(text, width):
    """Nothing is lost or wider than asked; words are only broken where they must be."""
    lines = wrapped(text, width, len)
    assert all(0 < len(line) <= width for line in lines)
    assert "".join("".join(lines).split()) == "".join(text.split())


# -- the board ---------------------------------------------------------------------------------------------------------

def test_the_board_tells_the_job():
    """Title, stage, place, words, what can be said, what was heard and what was said about it."""
    job = at_step(LEARNING, "torch-length")
    hearing = Hearing("four", Decimal("0.93"), "test ear")
    made = shown(job, hearing=hearing, accepted=True, spoken=("Tools: four. Right.",))
    assert (made.title, made.practice, made.number, made.count) == ("Learn the companion", True, 3, 5)
    assert made.asks == made.step and made.asks.startswith("Measure the torch")
    assert made.can_say[0] == "the value, with its unit" and "emergency" in made.can_say
    assert made.noticed == Noticed("Heard", "four", "0.93", True)
    assert made.said == "Tools: four. Right." and made.clocks == ()


def test_a_step_is_not_shown_before_its_caution_is_acknowledged():
    """The eye must not run ahead of the caution."""
    job = at_step(LEARNING, "torch-on").but(cautions=tuple(Simulator(LEARNING).job.card.cautions)[:1])
    made = shown(job)
    assert made.urgent == "caution" and made.step == "" and made.short == ""
    assert made.asks.startswith("Caution.") and made.asks.endswith("Say: light turned away.")


def test_an_emergency_takes_the_screen():
    """The card's emergency words in large type, whatever was going on."""
    made = shown(at_step(LEARNING, "torch-length", emergency=True))
    assert made.urgent == "emergency" and made.asks.startswith("Emergency.")
    assert "EMERGENCY" in lay_out(made, Look())[0].plain


def test_an_alarm_stays_large_until_it_is_answered():
    """What was said with an alarm stands before what is asked, until the mechanic speaks."""
    screen = Screen(lambda tag: None, Wire(), painter(), lambda: (80, 24), pause=lambda seconds: None)
    for effect in (Say("Before."), Tone("alarm"), Say("The microphone is gone."), Say("Again.")):
        screen.carry_out(effect)
    made = shown(at_step(LEARNING, "torch-length"), spoken=screen._spoken, alarm=screen._alarm)
    assert made.asks.startswith("The microphone is gone. Measure") and made.said == "Before. Again."
    assert made.urgent == "alarm"
    screen.carry_out(Hush())
    assert screen._alarm is None
    screen.close()


def test_clocks_stand_in_the_order_in_which_they_end():
    """The next to end comes first; one that has ended is not shown; the wait of the step is what matters."""
    wait = next(step for step in Simulator(INJECTOR).job.card.steps if isinstance(step.answer, WaitOf))
    clocks = {wait.answer.clock: Running(wait.answer.clock, "wait", 600_000, 240_000, 600_000),
              "a": Running("a", "timer", 60_000, 65_500, 60_000), "b": Running("b", "timer", 1_000, 0, 0, ended=True)}
    made = shown(at_step(INJECTOR, wait.id, clocks=clocks), up_ms=5_000)
    assert [clock.left_ms for clock in made.clocks] == [60_500, 235_000] and made.timed
    assert made.clocks[0].name == "your timer of one minute"


def test_before_a_job_is_opened_the_question_stands_alone():
    """The offer to resume is asked when there is no job yet."""
    made = board(None, 0, spoken=("Resume it? Affirm, or negative?",), sound="listening")
    assert made.asks == "Resume it? Affirm, or negative?" and made.title == "" and made.sound == "listening"


@pytest.mark.parametrize("ms, text", [
    (0, "00:00"), (1, "00:01"), (59_001, "01:00"), (245_000, "04:05"), (3_844_000, "1:04:04")])
def test_minutes_and_seconds(ms, text):
    """A begun second counts whole, so that nothing left means over."""
    assert minutes(ms) == text


def test_a_board_for_every_moment_of_whole_jobs():
    """At every event of a job with every kind of step there is a picture, and it fits."""
    simulator = Simulator(EVERY_KIND)
    for line in (Path(__file__).parent / "cases" / "job").glob("*.txt"):
        simulator.say(*line.read_text(encoding="utf-8").splitlines())
    for words in ("next", "emergency", "emergency over", "affirm", "pause", "resume", "options", "stop job", "affirm"):
        simulator.say(words)
        assert len(lay_out(shown(simulator.job, simulator.up), Look())) == 22


# -- the layout --------------------------------------------------------------------------------------------------------

def boards(words: st.SearchStrategy[str]) -> st.SearchStrategy[Board]:
    """Boards that hold any of `words` anywhere."""
    return st.builds(
        Board, title=words, practice=st.booleans(), stage=words, number=st.integers(0, 999), count=st.just(999),
        asks=words, short=words, step=words, said=words, can_say=st.lists(words, max_size=9).map(tuple),
        noticed=st.none() | st.builds(Noticed, st.just("Heard"), words, st.sampled_from(("", "0.50")), st.booleans()),
        clocks=st.lists(st.builds(Counting, words, st.integers(0, 10**8)), max_size=4).map(tuple), timed=st.booleans(),
        urgent=st.sampled_from(("", "caution", "emergency", "alarm")), flash=st.booleans(), sound=words)


#: Letters of which every terminal agrees how wide they are, one column or two; and some that must never reach it.
AGREED = st.text("abcdefgh  ijklmnop  QRSTUVW. ?:;é½²…압력\x07\n\x1b\u202e", max_size=120)
LOOKS = st.builds(Look, columns=st.integers(1, 200), rows=st.integers(1, 60), blocks=st.booleans())


@settings(max_examples=60, deadline=None)
@given(boards(st.text(max_size=200)), LOOKS)
def test_any_words_fit_any_terminal(picture, look):
    """Exactly the rows there are, none too wide, and no control character, whatever stands on a card."""
    rows = lay_out(picture, look)
    assert len(rows) == look.shown_rows
    assert all(row.cell_len <= look.columns and row.plain.isprintable() for row in rows)


@pytest.mark.parametrize("blocks, share", [(True, 0.95), (False, 0.35)])
def test_the_steps_of_the_longest_card_are_large_at_80_by_24(blocks, share):
    """Most steps stand whole in large type; of the others every word is on the screen all the same."""
    job, whole = Simulator(INJECTOR).job, 0
    for step in job.card.steps:
        picture = shown(job.but(at=step.id, begun=True, cautions=()))
        rows = [row.plain for row in lay_out(picture, Look(blocks=blocks))][1:]
        large_whole = [made for size in sizes(blocks) if (made := large(picture.asks, 80, len(rows), size))]
        top = 0 if rows[0] else 1  # a blank row stands above where there is room
        if any(rows[top:top + len(made)] == made for made in large_whole):
            whole += 1
        else:
            assert picture.asks.split()[-1] in " ".join(rows)
    assert whole >= share * len(job.card.steps)


def test_practice_stands_first():
    """However narrow, whoever looks sees that the figures are invented."""
    picture = shown(at_step(LEARNING, "torch-length"), sound="microphone lost")
    for columns in (20, 40, 80):
        assert lay_out(picture, Look(columns=columns))[0].plain.startswith("PR")
    assert lay_out(picture, Look())[0].plain.endswith("microphone lost")
    assert "PRACTICE" not in lay_out(replace(picture, practice=False), Look())[0].plain


@pytest.mark.parametrize("hearing, row", [
    (Hearing("next", Decimal("0.97"), "ear"), "Heard 0.97: next"), (Hearing("next"), "Typed: next"),
    (Hearing("next", None, "key", by="pressed"), "Pressed: next")])
def test_what_was_heard_stands_with_its_score(hearing, row):
    """The mechanic sees what the ear made of it, and whether it counted."""
    assert row in [text.plain for text in lay_out(board(None, 0, hearing=hearing, accepted=True), Look())]
    refused = row.replace(":", ", not taken:")
    assert refused in [text.plain for text in lay_out(board(None, 0, hearing=hearing), Look())]


# -- the terminal ------------------------------------------------------------------------------------------------------

@settings(max_examples=20, deadline=None)
@given(st.lists(boards(AGREED), min_size=1, max_size=3), st.booleans())
def test_a_terminal_shows_exactly_the_last_picture(pictures, blocks):
    """Whatever stood there before, writing only the changes gives the same picture, and leaves what is typed alone."""
    terminal, paint = Terminal(), painter(blocks)
    for number, picture in enumerate(pictures):
        terminal.feed(paint.paint(picture, (80, 24)))
        if number == 0:
            terminal.feed("half a line")
    wanted = frame(lay_out(pictures[-1], Look(blocks=blocks)), 80, "utf-8" if blocks else "ascii")
    assert terminal.lines[:22] == ["".join(text for text, _ in row) for row in wanted]
    assert terminal.lines[22:] == [" " * 80, "half a line".ljust(80)]
    assert (terminal.screen.cursor.y, terminal.screen.cursor.x) == (23, 11)


def test_typed_lines_scroll_in_their_own_two_rows():
    """Enter on the lowest row must not push the picture up."""
    terminal, paint, picture = Terminal(), painter(), shown(at_step(LEARNING, "torch-length"))
    terminal.feed(paint.paint(picture, (80, 24)))
    before = terminal.lines[:22]
    terminal.feed("first\r\nsecond\r\nthird")
    assert terminal.lines[:22] == before and [line.rstrip() for line in terminal.lines[22:]] == ["second", "third"]


@pytest.mark.parametrize("blocks", [True, False])
@pytest.mark.parametrize("timed", [True, False])
def test_a_second_on_a_clock_costs_little(blocks, timed):
    """Over a slow line the clock must not fall behind; the figures change each second, and nothing else."""
    steps = Simulator(INJECTOR).job.card.steps
    step = next(step for step in steps if isinstance(step.answer, (WaitOf, RunOf)) == timed)
    job = at_step(INJECTOR, step.id, clocks={"t": Running("t", "timer", 900_000, 725_000, 900_000)})
    terminal, paint, seen = Terminal(), painter(blocks), []
    for second in range(70):
        cost = terminal.feed(paint.paint(shown(job, up_ms=second * 1000), (80, 24)))
        assert second == 0 or 0 < cost <= TICK_BYTES
        big = terminal.lines[-12:-3]
        seen.append(tuple(big))
        if not timed:
            assert any(row.startswith(minutes(725_000 - second * 1000)) for row in big)
    assert len(set(seen)) == 70


def test_nothing_new_writes_nothing():
    """An unchanged picture costs not a byte."""
    paint, picture = painter(), shown(at_step(LEARNING, "torch-length"))
    assert paint.paint(picture, (80, 24)) and paint.paint(picture, (80, 24)) == ""


def test_another_size_is_drawn_anew():
    """A window that grows gets larger letters; nothing of the old picture is left."""
    terminal, paint, picture = Terminal(160, 45), painter(), shown(at_step(LEARNING, "torch-length"))
    paint.paint(picture, (80, 24))
    terminal.feed("old" * 500 + paint.paint(picture, (160, 45)))
    wanted = frame(lay_out(picture, Look(160, 45)), 160, "utf-8")
    assert terminal.lines[:43] == ["".join(text for text, _ in row) for row in wanted]


@pytest.mark.parametrize("character, encoding, written", [
    ("é", "ascii", "e"), ("½", "ascii", "?"), ("²", "ascii", "?"), ("…", "ascii", "."), ("é", "latin-1", "é"),
    ("압", "utf-8", "압")])
def test_what_cannot_be_written_is_simpler_but_never_something_else(character, encoding, written):
    """A half that became a one would be a wrong figure."""
    assert simpler(character, encoding) == written


def test_an_accent_takes_no_column():
    """It stands on the letter before it, wide ones too; without one, or where it cannot be written, it is left out."""
    rows = (Text("e\u0301x"), Text("\u0301a"), Text("압\u0301b"))
    cells = [[text for text, _ in row] for row in frame(rows, 3, "utf-8")]
    assert cells == [["e\u0301", "x", " "], ["a", " ", " "], ["압\u0301", "", "b"]]
    assert frame(rows[:1], 2, "ascii") == ((("e", ""), ("x", "")),)


# -- the screen itself -------------------------------------------------------------------------------------------------

class Wire(io.StringIO):
    """Takes what is written, and tells of it."""

    def __init__(self) -> None:
        super().__init__()
        self.writes: list[str] = []
        self.ended = threading.Event()

    def write(self, text: str) -> int:
        self.writes.append(text)
        if text.endswith("\n"):
            self.ended.set()
        return len(text)


class Worker:
    """Stands for a companion."""

    def __init__(self, job: Job) -> None:
        self.job, self.clock, self.listening = job, SimulatedClock(), listen(job)


def test_the_screen_shows_what_happens_and_reports_what_was_read():
    """As a mouth without a voice it reports tags, as a screen it shows the job; the last picture stays."""
    wire, reported = Wire(), []
    screen = Screen(reported.append, wire, painter(), lambda: (80, 24), pause=lambda seconds: None)
    job = at_step(LEARNING, "torch-length")
    screen.carry_out(Say("Forgotten."))
    screen.carry_out(Hush())
    screen.carry_out(Say("Tools: four. Right.", "tag"))
    screen.state("listening")
    hearing = Hearing("four", Decimal("0.91"), "test ear")
    screen.took(Worker(job), Heard(hearing), ())
    screen.close()
    terminal = Terminal()
    terminal.feed("".join(wire.writes))
    assert reported == ["tag"] and "Heard 0.91: four" in terminal.lines[18].rstrip()
    assert any("Tools: four. Right." in row for row in terminal.lines) and "Forgotten" not in "".join(terminal.lines)


@pytest.mark.parametrize("what, made, accepted", [
    (Heard(Hearing("next")), (), True), (Unheard(Hearing("", Decimal("0.1"), "ear")), (), False),
    (Heard(Hearing("nxet")), (NotUnderstood(step="a", failures=1),), False)])
def test_what_counts_as_taken(what, made, accepted):
    """A line that fits nothing is shown as not taken."""
    screen = Screen(lambda tag: None, Wire(), painter(), lambda: (80, 24), pause=lambda seconds: None)
    screen.took(Worker(at_step(LEARNING, "torch-length")), what, made)
    screen.took(Worker(at_step(LEARNING, "torch-length")), Tick(), ())
    assert screen._hearing == (what.hearing, accepted)
    screen.close()


def test_at_most_four_writes_a_second_and_the_newest_picture_wins():
    """However many changes come, each write is followed by a pause of a quarter of a second; nothing is queued."""
    wire, pauses, go = Wire(), [], threading.Semaphore(0)

    def pause(seconds: float) -> None:
        pauses.append(seconds)
        assert go.acquire(timeout=20)

    screen = Screen(lambda tag: None, wire, painter(), lambda: (80, 24), pause)
    for number in range(200):
        screen.carry_out(Say(f"Line {number}."))
    go.release(3)
    screen.close()
    assert wire.ended.wait(20) and pauses and set(pauses) == {LEAST_S} and LEAST_S >= 0.25
    assert len(wire.writes) <= 2 + len(pauses) <= 5
    terminal = Terminal()
    terminal.feed("".join(wire.writes))
    assert any("Line 197. Line 198." in line for line in terminal.lines)  # above it "Line 199.", large


def test_a_screen_that_is_gone_does_not_end_the_job(capsys):
    """It is said once, and every later call is harmless."""
    wire = Wire()
    wire.close()
    wire.write = lambda text: io.StringIO.write(wire, text)
    screen = Screen(lambda tag: None, wire, painter(), lambda: (80, 24))
    screen.carry_out(Say("One."))
    screen._thread.join(20)
    screen.carry_out(Say("Two."))
    screen.close()
    assert capsys.readouterr().err.count("the job goes on by voice") == 1


def test_no_terminal_gets_todays_lines_and_nothing_else():
    """A pipe or a file sees exactly what a printed mouth prints."""
    reported, effects = [], (Say("One.", "a"), Hush(), Say("Bell\x07."))
    plain, out = io.StringIO(), io.StringIO()
    mouth, lines = PrintedMouth(reported.append, plain), screen_for(reported.append, out)
    assert isinstance(lines, Lines)
    worker = Worker(at_step(LEARNING, "torch-length"))
    for effect in effects:
        mouth.carry_out(effect)
        lines.carry_out(effect)
        lines.show(worker)
        lines.took(worker, Tick(), ())
        lines.heard(Hearing("next"), True)
        lines.state("listening")
    lines.close()
    assert out.getvalue() == plain.getvalue() != "" and reported == ["a", "a"]


def test_an_alarm_flashes_once_a_second_over_the_whole_width():
    """Head and words turn light for dark and back; the rest of the picture stays, for a slow line must keep up."""
    job = Simulator(lone=LoneTerms(every_ms=600_000)).wait(10 * 60 + 30).job
    assert job.mode == "alarm"
    on, off = shown(job, up_ms=2_000), shown(job, up_ms=3_000)
    assert (on.flash, off.flash, on.urgent) == (True, False, "alarm") and "I am okay" in on.asks
    look = Look(80, 24)
    lit = [row for row in lay_out(on, look) if any("reverse" in str(span.style) for span in row.spans)]
    assert len(lit) > 4 and all(row.cell_len == 80 for row in lit)
    assert not [row for row in lay_out(off, look) if any("reverse" in str(span.style) for span in row.spans)]
