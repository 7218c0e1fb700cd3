"""Answers to the mechanic's own questions, from the card and the log, in words a voice can say."""
from __future__ import annotations

import re
from decimal import Decimal
from typing import Callable, Optional

from companion.core import events as ev
from companion.core.card import SpellingOf, Step, ToolOf, ValueOf
from companion.core.job.listen import choices, listen
from companion.core.job.measuring import setting
from companion.core.numbers import say_digits, say_number, sounds_alike
from companion.core.saying import say_quantity
from companion.core.spelling import say_spelling
from companion.core.job.state import Job, Running
from companion.core.understand import options
from companion.trade.units import resolve


def duration(ms: int) -> str:
    """"two minutes ten seconds"; rounded up to whole seconds, from ten minutes on to whole minutes."""
    seconds = -(-ms // 1000)
    minutes, seconds = divmod(seconds, 60)
    if minutes >= 10:
        minutes, seconds = minutes + (seconds >= 30), 0
    hours, minutes = divmod(minutes, 60)
    parts = [_counted(hours, "hour"), _counted(minutes, "minute"), _counted(seconds, "second")]
    return " ".join(part for part in parts if part) or "no time"


def _counted(number: int, noun: str) -> str:
    return f"{say_number(str(number))} {noun}{'' if number == 1 else 's'}" if number else ""


def quantity(digits: str, unit: str) -> str:
    """A value with its unit; the teens and the tens also digit by digit ("fifty, five zero, bar")."""
    said = say_quantity(digits, unit)
    if not sounds_alike(digits):
        return said
    number = say_number(digits)
    return said.replace(number, f"{number}, {say_digits(digits)},", 1)


def clock_words(job: Job, clock: Running) -> str:
    """How a clock is called aloud."""
    if clock.kind == "timer":
        return f"your timer of {duration(clock.lasts_ms)}"
    return job.card.clocks[clock.name].say


def filled(job: Job, text: str) -> str:
    """`{name}` replaced by what was answered under that name, `{setting}` by what the wrench must show."""
    return re.sub(r"\{([^{}]+)\}", lambda found: answered(job, found.group(1)), text)


def answered(job: Job, name: str) -> str:
    """An earlier answer in words; "not given" where its step was left out."""
    if name == "setting" and isinstance(job.step.answer, ValueOf):
        return setting_words(job, job.step.answer)
    text = job.answers.get(name)
    if text is None:
        return "not given"
    step = next((step for step in job.card.steps if getattr(step.answer, "name", "") == name), None)
    if step is not None and isinstance(step.answer, ValueOf):
        return quantity(text, step.answer.unit)
    if step is not None and isinstance(step.answer, SpellingOf):
        return say_spelling(text)
    return say_number(text) if re.fullmatch(r"-?\d+(\.\d+)?", text) else text


def setting_words(job: Job, answer: ValueOf) -> str:
    """What the wrench must show through its adaptor, as its scale can be read."""
    exact = setting(job, answer)
    return "the card's torque" if exact is None else quantity(str(resolve(exact, answer.decimals)), answer.unit)


HOLD_POINT = ("Hold point. This waits for a sign-off.", "The office must sign it too.")
"""Said before and after the words of a hold point, brief or not."""


def step_words(job: Job, whole: bool = False) -> str:
    """The present step's words, brief where the mechanic asked for brief ones."""
    step = job.step
    words = filled(job, step.brief if job.brief and step.brief and not whole else step.say)
    names = choices(job) if isinstance(step.answer, ToolOf) else ()
    if step.hold:
        return f"{HOLD_POINT[0]} {words} {HOLD_POINT[1]}"
    return f"{words} On the list: {', '.join(names[:-1])}." if names[:-1] else words


def limits(low: Optional[Decimal], high: Optional[Decimal], unit: str) -> str:
    """"The limit is two to four bar." """
    if low is not None and high is not None:
        return f"The limits are {say_number(_text(low))} to {quantity(_text(high), unit)}."
    if high is not None:
        return f"The limit is at most {quantity(_text(high), unit)}."
    if low is not None:
        return f"The limit is at least {quantity(_text(low), unit)}."
    return "The card sets no limit."


def _text(number: Decimal) -> str:
    return format(number, "f")


# -- one function per question -----------------------------------------------------------------------------------------

def tell(job: Job, topic: str) -> str:
    """The answer to `topic`, a command of `core.commands`; times are as of the job's last entry."""
    return _ANSWERS[topic](job)


def _how_long(job: Job) -> str:
    running = [clock for clock in job.clocks.values() if not clock.ended]
    if not running:
        return "No clock is running."
    left = (f"{duration(clock.left(job.last_up_ms))} left on {clock_words(job, clock)}." for clock in running)
    return " ".join(sentence[0].upper() + sentence[1:] for sentence in left)


def _options(job: Job) -> str:
    return "You can say: " + "; ".join(options(listen(job))) + "."


def _detail(job: Job) -> str:
    return filled(job, job.step.detail) or "The card has no more detail here."


def _where(job: Job) -> str:
    if not job.at:
        return "At the start."
    number = say_number(str(job.card.index(job.at) + 1))
    still_open = f" Left open: {len(job.open)}." if job.open else ""
    return f"{job.step.stage}, step {number} of {say_number(str(len(job.card.steps)))}.{still_open} {step_words(job)}"


def _is_torque(step: Step) -> bool:
    return isinstance(step.answer, ValueOf) and step.answer.unit in ("N·m", "lbf·ft", "lbf·in", "kgf·m")


def _what_torque(job: Job) -> str:
    """The present step's torque, else the next one on the card, named as such."""
    if _is_torque(job.step):
        answer = job.step.answer
        shows = f" Set the wrench to {setting_words(job, answer)}." if answer.adaptor else ""
        return limits(answer.low, answer.high, answer.unit) + shows
    later = [step for step in job.card.steps[job.card.index(job.at):] if _is_torque(step)]
    if not later:
        return "No torque lies ahead on this card."
    answer = later[0].answer
    return f"Not here. Next, {answer.name}: " + limits(answer.low, answer.high, answer.unit)


def _what_limit(job: Job) -> str:
    answer = job.step.answer
    if not isinstance(answer, ValueOf):
        return "No value is asked for here."
    return limits(answer.low, answer.high, answer.unit)


def _what_read(job: Job) -> str:
    if job.value is None:
        return "No value is logged yet."
    return f"{job.value.name}: {quantity(ev.plain(job.value.value), job.value.unit)}."


def _which_cylinder(job: Job) -> str:
    named = [name for name in job.answers if "cylinder" in name]
    words = [f"{name}: {answered(job, name)}." for name in named[-1:]]
    if "cylinder" in job.step.item:
        words.append(f"This step: {job.step.item}.")
    if job.card.cylinders:
        words.append(f"Counted from {job.card.cylinders.counted_from}.")
    return " ".join(words) or "No cylinder is named yet."


_ENDS = {"slower": "slowest", "faster": "fastest", "quieter": "quietest", "louder": "loudest"}

_ANSWERS: dict[str, Callable[[Job], str]] = {
    "how_long": _how_long, "options": _options, "detail": _detail, "where": _where, "what_torque": _what_torque,
    "what_limit": _what_limit, "what_read": _what_read, "which_cylinder": _which_cylinder,
    **{word: lambda job, end=end: f"This is the {end}." for word, end in _ENDS.items()},
}
