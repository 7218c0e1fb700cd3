"""How the record's rows are shown as tables, on the page and in the text alike: captions, headings, cells."""
from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Callable, Iterator, NamedTuple, Union

from companion.office.record.rows import Moment, Row, Span

Content = Union[str, Callable[[Row], str]]
"""The name of a row's value, or what makes the cell from the row."""


class Column(NamedTuple):
    """A heading, what stands under it, and what stands there instead of nothing."""

    head: str
    content: Content
    instead: str = ""

    def cell(self, row: Row, days: bool) -> str:
        """The cell of a row."""
        value = self.content(row) if callable(self.content) else row.get(self.content)
        return shown(value, days) or self.instead


@dataclass(frozen=True)
class Table:
    """One table: the rows `data[key]`, one cell for each column."""

    key: str
    caption: str
    columns: tuple[Column, ...]
    folded: bool = False
    """Long, and of use to few: closed until someone opens it."""

    def filled(self, rows: list[Row], days: bool) -> tuple[list[str], list[list[str]]]:
        """Headings and cells, without columns that say nothing at all. `days`: times need their date."""
        cells = [[column.cell(row, days) for column in self.columns] for row in rows]
        kept = [place for place in range(len(self.columns)) if any(line[place] for line in cells)]
        return [self.columns[place].head for place in kept], [[line[place] for place in kept] for line in cells]


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


def over_days(data: Row) -> bool:
    """Whether the job's entries lie on more than one day (UTC)."""
    return len({entry["at"][:10] for entry in data["entries"]}) > 1


def full(at: str) -> str:
    """A time with its date."""
    return f"{at[:10]} {at[11:19]} UTC"


# -- cells -------------------------------------------------------------------------------------------------------------

def heard(row: Row) -> str:
    """The words as they were said or typed."""
    return f"“{row['words']}”" if row.get("words") else ""


def ear(row: Row) -> str:
    """The ear's name, with its score where it gives one."""
    score = f" {row['score']}" if row.get("score") else ""
    return f"{row['ear']}{score}" if row.get("ear") else ""


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


def _quantity(row: Row) -> str:
    return f"{row['value']} {row['unit']}"


def _verdict(row: Row) -> str:
    return "no limit" if row["verdict"] == "none" else row["verdict"]


def _asked(row: Row) -> str:
    return row["name"] or row["say"]


def _protects(row: Row) -> str:
    return {"person": "a person", "work": "the work"}.get(row["protects"], row["protects"])


def _how(row: Row) -> str:
    left = f" with {span(row['left'])} left" if row.get("left") else ""
    return row["how"] + left + (f": {row['reason']}" if row["reason"] else "")


def _question(row: Row) -> str:
    return str(row["number"] or "unasked")


def _fields(row: Row) -> str:
    return "; ".join(f"{name.replace('_', ' ')}: {shown(value)}" for name, value in row["fields"].items()
                     if value not in ("", [], False))


def _event(row: Row) -> str:
    return row["event"].replace("_", " ")


def _said_step(row: Row) -> str:
    return f"{row['step']} ({row['item']})" if row["item"] else row["step"]


_AT = (Column("Time", "at"), Column("Step", "step"))
_HEARD = (Column("As said", heard), Column("Ear", ear))

TABLES = (
    Table("values", "Measured values", (
        *_AT, Column("Name", "name"), Column("Value", _quantity), Column("Limits", limits), Column("Verdict", _verdict),
        Column("Reason", "reason"), Column("As said", said), Column("Ear", ear), Column("Corrected", corrected))),
    Table("counts", "Counts", (
        *_AT, Column("What", "name"), Column("Count", "count"), Column("Must be", "must_be"),
        Column("Verdict", "verdict"), *_HEARD)),
    Table("codes", "Fault codes", (*_AT, Column("List", "name"), Column("Codes", "codes", "none"))),
    Table("answers", "Choices and answers", (*_AT, Column("What", _asked), Column("Answer", "answer"), *_HEARD)),
    Table("cautions", "Cautions", (
        Column("Heard", "at"), Column("Step", "step"), Column("Caution", "caution"),
        Column("Acknowledged", "acknowledged", "never"), *_HEARD)),
    Table("caution_words", "The cautions in words", (
        Column("Caution", "caution"), Column("Words", "say"), Column("Source", "source"))),
    Table("waits", "Waits", (
        Column("Began", "at"), Column("Step", "step"), Column("Wait", "say"), Column("Protects", _protects),
        Column("Length", "lasts"), Column("Ended", "ended", "never"), Column("Lasted", "ran"),
        Column("Of it away", "away"), Column("How it ended", _how))),
    Table("runs", "Runs", (
        Column("Began", "at"), Column("Step", "step"), Column("Run", "say"), Column("Length", "lasts"),
        Column("Ended", "ended", "never"), Column("Lasted", "ran"), Column("How it ended", _how))),
    Table("questions", "Questions of the runs", (
        Column("Asked", "at"), Column("Run", "say"), Column("Question", _question),
        Column("Answered", "answered", "never"), Column("Answer", "answer", "none"), *_HEARD)),
    Table("timers", "The mechanic's own timers", (
        Column("Began", "at"), Column("Step", "step"), Column("Length", "lasts"), Column("Ended", "ended", "never"),
        Column("How it ended", _how))),
    Table("readings", "Values nobody asked for", (*_AT, Column("Value", _quantity), *_HEARD)),
    Table("left_open", "Steps left open", (
        *_AT, *_HEARD, Column("Closed", "closed", "still open"), Column("Outcome", "outcome"))),
    Table("left_out", "Steps left out", (*_AT, Column("Reason", "reason", "none given"), *_HEARD)),
    Table("gaps", "Gaps", (
        Column("Left", "left"), Column("How", "how"), Column("Went on", "at", "not yet"), Column("Away", "away"),
        Column("Machine not restarted", "same_boot"), Column("Bytes cut off", "torn_bytes"),
        Column("Shown on resuming", "proved"))),
    Table("pauses", "Pauses", (*_AT, Column("Ended", "ended", "never"), *_HEARD)),
    Table("emergencies", "Emergencies", (*_AT, Column("Ended", "ended", "never"), *_HEARD)),
    Table("misunderstood", "Not understood", (*_AT, Column("What", "what"), *_HEARD)),
    Table("refusals", "Refused", (*_AT, Column("Act", "act"), Column("Why", "why"), *_HEARD)),
    Table("steps", "Steps in order", (
        Column("Began", "at"), Column("Stage", "stage"), Column("Step", _said_step), Column("Words", "say"),
        Column("Outcome", "outcome"), Column("Took", "took")), folded=True),
    Table("entries", "Every entry of the log", (
        Column("Line", "line"), Column("Time", "at"), Column("Entry", _event), Column("Step", "step"),
        Column("What it says", _fields), *_HEARD), folded=True),
)


def tables(data: Row, folded: bool) -> Iterator[tuple[Table, list[str], list[list[str]]]]:
    """The tables that have rows, each with headings and cells."""
    days = over_days(data)
    for table in TABLES:
        if table.folded == folded and data[table.key]:
            yield (table, *table.filled(data[table.key], days))


def empty(data: Row) -> str:
    """Captions of the tables without rows: what did not happen."""
    missing = (table.caption for table in TABLES if not table.folded and not data[table.key])
    return ", ".join(map(str.lower, missing)) or "all of it happened"
