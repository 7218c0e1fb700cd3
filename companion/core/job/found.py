"""What the companion says of its own working out: what it expected, what it heard, what to do, in two sentences at most."""
from __future__ import annotations

from datetime import date
from typing import Callable

from companion.core import events as ev
from companion.core.job.effects import Effect, Tone
from companion.core.job.held_words import logged
from companion.core.job.prompt import say
from companion.core.job.state import Job
from companion.core.job.telling import quantity
from companion.core.numbers import say_number
from companion.core.saying import in_words
from companion.core.spelling import say_spelling
from companion.trade import codes

_MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
           "December")


def meaning(code: str) -> str:
    """What a fault code says, in our own words."""
    return in_words(codes.explain(code).words)


def _day(text: str) -> str:
    day = date.fromisoformat(text)
    return f"{_MONTHS[day.month - 1]} {say_number(str(day.day))}, {say_number(str(day.year))}"


# -- the tool ----------------------------------------------------------------------------------------------------------

def _tool(event: ev.ToolJudged, job: Job) -> tuple[Effect, ...]:
    if event.verdict == "fit":
        return say("It fits, and is in calibration.")
    do = f"Use the {event.would_do[0]}, or say another." if event.would_do else "No other on the list will do. Say: none of these."
    return say(_UNFIT[event.why](event), do)


def _range(word: str) -> Callable[[ev.ToolJudged], str]:
    return lambda event: (f"The {event.tool} {word} {quantity(_short(event.limit), event.unit)}, "
                          f"but {quantity(_short(event.target), event.unit)} is needed.")


def _short(number) -> str:
    """At most three digits after the point, and none that say nothing."""
    text = format(round(number, 3), "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


_UNFIT: dict[str, Callable[[ev.ToolJudged], str]] = {
    "below range": _range("starts at"),
    "above range": _range("ends at"),
    "other quantity": lambda event: f"The {event.tool} measures something else.",
    "out of date": lambda event: f"The calibration of the {event.tool} ended on {_day(event.due)}.",
    "used up": lambda event: f"The {event.tool} has done all its pulls since it was calibrated.",
    "never calibrated": lambda event: f"The list gives no calibration for the {event.tool}.",
    "dated ahead": lambda event: f"The calibration of the {event.tool} is dated ahead. Check the list.",
    "no arm known": lambda event: f"The list gives no arm for the {event.tool}, and the adaptor needs it.",
}


# -- evidence ----------------------------------------------------------------------------------------------------------

def _readings(event: ev.ReadingsCompared, job: Job) -> tuple[Effect, ...]:
    if event.outlier:
        return say(f"{event.name}: {in_words(event.outlier)} stands out.")
    note = f", but {in_words(event.unusual)} is unusual" if event.unusual else ""
    return say(f"{event.name}: none stands out{note}.")


def _evidence(event: ev.EvidenceCompared, job: Job) -> tuple[Effect, ...]:
    if event.verdict == "agree":
        return say(f"What was found agrees: {event.found}.", *map(in_words, event.why))
    why = event.why or (f"What was found points to {event.found}." if event.found else "Nothing found points to one.",)
    return (Tone("again"), *say("That does not agree." if event.verdict == "disagree" else "", *map(in_words, why)))


def _codes(event: ev.CodesCompared, job: Job) -> tuple[Effect, ...]:
    parts = (("Gone", event.gone), ("Still there", event.still_there), ("Came back", event.came_back),
             ("New", event.new), ("Our own is still there", event.ours_left))
    return say(*(f"{word}: {', '.join(map(say_spelling, found))}." for word, found in parts if found), pace="number")


def _spellings(event: ev.SpellingsCompared, job: Job) -> tuple[Effect, ...]:
    if event.verdict == "same":
        return say("The same as before.")
    if not event.places:
        return (Tone("again"), *say("There is no first one to compare it with."))
    places = " and ".join(say_number(place) for place in event.places[:3])
    return (Tone("again"), *say(f"It differs from the first at place {places}."))


def _vin(event: ev.VinChecked, job: Job) -> tuple[Effect, ...]:
    return say("Its check character does not fit. Look at the plate once more.") if event.verdict == "does not fit" else ()


_CLOSED = {"wait not over": "The wait is not over", "no reading": "No pressure was read after the wait",
           "pressure left": "There is still pressure", "pressure rose": "The pressure rose after the wait"}


def _closed(event: ev.LineKeptClosed, job: Job) -> tuple[Effect, ...]:
    return (Tone("alarm"), *say(f"Keep the line closed. {_CLOSED[event.why]}."))


# -- fault codes, as they are said --------------------------------------------------------------------------------------

def _code(event: ev.CodeHeard, job: Job) -> tuple[Effect, ...]:
    """Read back with what it means, which catches a wrong digit better than the digits do."""
    words = "" if job.brief else f"{meaning(event.code)}."
    return say(f"{say_spelling(event.code)}.", words, "Next code, or no more codes.", pace="number")


def _codes_logged(event: ev.CodesLogged, job: Job) -> tuple[Effect, ...]:
    number = len(event.codes)
    said = f"{say_number(str(number))} code{'' if number == 1 else 's'}" if number else "No codes"
    return say(f"{said}.", logged(job)) if job.held or not number else say(f"{said} logged.")


#: What each of these facts makes sound.
FOUND: dict[type[ev.Event], Callable[..., tuple[Effect, ...]]] = {
    ev.CodeHeard: _code, ev.CodesLogged: _codes_logged,
    ev.ToolJudged: _tool, ev.ReadingsCompared: _readings, ev.EvidenceCompared: _evidence, ev.CodesCompared: _codes,
    ev.SpellingsCompared: _spellings, ev.VinChecked: _vin, ev.LineKeptClosed: _closed,
}
