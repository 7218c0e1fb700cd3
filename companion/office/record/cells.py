"""How a row's values are shown in a few words, on the page and in the text alike."""
from __future__ import annotations

from typing import Any, Callable

from companion.office.record.rows import Moment, Row, Span


def shown(value: Any, days: bool = False) -> str:
    """A value of a row in a few words."""
    if value is None:
        return ""
    if isinstance(value, Moment):
        return value[:19].replace("T", " ") if days else value[11:19]
    if isinstance(value, Span):
        return span(value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    return ", ".join(map(str, value)) if isinstance(value, list) else str(value)


def span(ms: int) -> str:
    """"1 h 4 min 5 s", to whole seconds; the empty parts are left out."""
    minutes, seconds = divmod(max(0, ms) // 1000, 60)
    hours, minutes = divmod(minutes, 60)
    parts = [f"{number} {unit}" for number, unit in ((hours, "h"), (minutes, "min"), (seconds, "s")) if number]
    return " ".join(parts) or "0 s"


def full(at: str) -> str:
    """A time with its date."""
    return f"{at[:10]} {at[11:19]} UTC"


def heard(row: Row) -> str:
    """The words as they were said or typed."""
    return f"“{row['words']}”" if row.get("words") else ""


def ear(row: Row) -> str:
    """The ear's name, with its score where it gives one, and what made it listen where that was no open listening."""
    score = f" {row['score']}" if row.get("score") else ""
    by = f", {row['by']}" if row.get("by") else ""
    return f"{row['ear']}{score}{by}" if row.get("ear") else ""


def limits(row: Row) -> str:
    """A value's limits in words."""
    low, high = row["low"], row["high"]
    if low is not None and high is not None:
        return f"{low} to {high} {row['unit']}"
    if low is None and high is None:
        return "none"
    return f"at least {low} {row['unit']}" if high is None else f"at most {high} {row['unit']}"


def said(row: Row) -> str:
    """A value as it was said: only where that is another unit than the card's."""
    number = f"{row['said']} {row['said_unit']}" if row["said_unit"] != row["unit"] else ""
    return " = ".join(part for part in (heard(row), number) if part)


def corrected(row: Row) -> str:
    """Whether a value replaces one, or was replaced."""
    parts = ["corrects the one before"] * row["corrects"]
    return "; ".join(parts + ([f"replaced in line {row['replaced_by']}"] if row["replaced_by"] else []))


def quantity(row: Row) -> str:
    return f"{row['value']} {row['unit']}"


def verdict(row: Row) -> str:
    return {"none": "no limit", "too close": "too close to call"}.get(row["verdict"], row["verdict"])


def asked(row: Row) -> str:
    return row["name"] or row["say"]


def protects(row: Row) -> str:
    return {"person": "a person", "work": "the work"}.get(row["protects"], row["protects"])


def how(row: Row) -> str:
    left = f" with {span(row['left'])} left" if row.get("left") else ""
    return row["how"] + left + (f": {row['reason']}" if row["reason"] else "")


def question(row: Row) -> str:
    return str(row["number"] or "unasked")


def fields(row: Row) -> str:
    """What an entry says. A signature's letters tell a reader nothing; the log and `--json` have them."""
    if row["event"] == "sealed":
        return "vouches for every line before it"
    return "; ".join(f"{name.replace('_', ' ')}: {shown(value)}" for name, value in row["fields"].items()
                     if value not in ("", [], False))


def event(row: Row) -> str:
    return row["event"].replace("_", " ")


def memo(row: Row) -> str:
    """Whether a memo was kept, and if not, why; and what has become of its file since."""
    if row["kept"] is None:
        return f"not kept: {row['why'] or 'the log ends before'}"
    return f"kept, {row['state']}"


def clip(row: Row) -> str:
    """Whether the sound of an answer was kept, and what has become of its file since."""
    return f"not kept: {row['why']}" if row["why"] else f"kept, {row['state']}"


def decibels(name: str) -> Callable[[Row], str]:
    """A level or a distance of levels."""
    return lambda row: "" if row[name] is None else f"{row[name]} dB"


def percent(name: str) -> Callable[[Row], str]:
    """ "0.2 %"."""
    return lambda row: "" if row[name] is None else f"{row[name]} %"


def said_step(row: Row) -> str:
    return f"{row['step']} ({row['item']})" if row["item"] else row["step"]
