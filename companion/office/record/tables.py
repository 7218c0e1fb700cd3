"""How the record's rows are shown as tables, on the page and in the text alike: captions, headings, cells."""
from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Callable, Iterator, NamedTuple, Union

from companion.office.record import cells, worked_cells
from companion.office.record.rows import Row

Content = Union[str, Callable[[Row], Any]]
"""The name of a row's value, or what makes the cell from the row."""


class Column(NamedTuple):
    """A heading, what stands under it, and what stands there instead of nothing."""

    head: str
    content: Content
    instead: str = ""

    def cell(self, row: Row, days: bool) -> str:
        """The cell of a row."""
        value = self.content(row) if callable(self.content) else row.get(self.content)
        return cells.shown(value, days) or self.instead


@dataclass(frozen=True)
class Table:
    """One table: the rows `data[key]`, one cell for each column."""

    key: str
    caption: str
    columns: tuple[Column, ...]
    folded: bool = False
    """Long, and of use to few: closed until someone opens it."""
    lines: Callable[[Row], list[Row]] = lambda row: [row]
    """The lines that one row makes: none, one, or one for each of its parts."""

    def filled(self, rows: list[Row], days: bool) -> tuple[list[str], list[list[str]]]:
        """Headings and cells, without columns that say nothing at all. `days`: times need their date."""
        lines = [line for row in rows for line in self.lines(row)]
        found = [[column.cell(line, days) for column in self.columns] for line in lines]
        kept = [place for place in range(len(self.columns)) if any(line[place] for line in found)]
        return [self.columns[place].head for place in kept], [[line[place] for place in kept] for line in found]


def over_days(data: Row) -> bool:
    """Whether the job's entries lie on more than one day (UTC)."""
    return len({entry["at"][:10] for entry in data["entries"]}) > 1


_AT = (Column("Time", "at"), Column("Step", "step"))
_HEARD = (Column("As said", cells.heard), Column("Ear", cells.ear))

TABLES = (
    Table("values", "Measured values", (
        *_AT, Column("Name", "name"), Column("Value", cells.quantity), Column("Limits", cells.limits),
        Column("Verdict", cells.verdict), Column("Reason", "reason"), Column("As said", cells.said),
        Column("Ear", cells.ear), Column("Corrected", cells.corrected))),
    Table("values", "Behind the values", (
        *_AT, Column("Name", "name"), Column("Value", cells.quantity), Column("Tool", "tool"),
        Column("Reading on the wrench", worked_cells.on_the_wrench),
        Column("Expanded uncertainty, k = 2", worked_cells.uncertainty),
        Column("Probability of being inside", worked_cells.probability), Column("Reading alone", "side"),
        Column("Rose from", worked_cells.rose)), lines=worked_cells.backed),
    Table("tool_checks", "Tools against their tasks", (
        *_AT, Column("For", "name"), Column("Tool", "tool"), Column("Verdict", "verdict"),
        Column("Why not", worked_cells.why_unfit), Column("Tools that would do", "would_do"))),
    Table("counts", "Counts", (
        *_AT, Column("What", "name"), Column("Count", "count"), Column("Must be", "must_be", "no figure"),
        Column("Verdict", worked_cells.counted), *_HEARD)),
    Table("codes", "Fault codes", (
        *_AT, Column("List", "name"), Column("Code", "code", "none"), Column("Meaning", "meaning")),
        lines=worked_cells.each_code),
    Table("codes_compared", "Codes before against codes after", (
        *_AT, Column("List", "name"), Column("Code", "code", "none"), Column("Came out", "came_out"),
        Column("Meaning", "meaning")), lines=worked_cells.each_outcome),
    Table("comparisons", "Readings of the cylinders side by side", (
        *_AT, Column("Readings", "name"), Column("Cylinder", "cylinder"), Column("Value", cells.quantity),
        Column("Median", worked_cells.median), Column("Finding", "finding"), Column("Named by", "by")),
        lines=worked_cells.each_cylinder),
    Table("evidence", "What was said against what was found", (
        *_AT, Column("What", "name"), Column("Said", "said"), Column("Found", "found", "nothing"),
        Column("Verdict", "verdict"), Column("What disagrees", worked_cells.sentences))),
    Table("spellings", "Spelled twice", (
        *_AT, Column("What", "name"), Column("Against", "against"), Column("Verdict", "verdict"),
        Column("Places that differ", "places"))),
    Table("vehicle_numbers", "Vehicle numbers", (
        *_AT, Column("What", "name"), Column("Check character", "verdict"))),
    Table("kept_closed", "Lines kept closed", (
        *_AT, Column("Why", "why"), Column("Back to step", "again"))),
    Table("answers", "Choices and answers", (*_AT, Column("What", cells.asked), Column("Answer", "answer"), *_HEARD)),
    Table("cautions", "Cautions", (
        Column("Heard", "at"), Column("Step", "step"), Column("Caution", "caution"), Column("How", "how"),
        Column("Acknowledged", "acknowledged", "never"), *_HEARD)),
    Table("caution_words", "The cautions in words", (
        Column("Caution", "caution"), Column("Words", "say"), Column("Source", "source"))),
    Table("times", "Time by stage", (
        Column("Stage", "stage", "the whole job"), Column("Hands-on", worked_cells.spent("hands_on")),
        Column("Waits", worked_cells.spent("waits")), Column("Road test", worked_cells.spent("road_test")),
        Column("Away", worked_cells.spent("away")), Column("Worked", "worked"),
        Column("Estimate", "estimate"), Column("Against it", worked_cells.difference))),
    Table("waits", "Waits", (
        Column("Began", "at"), Column("Step", "step"), Column("Wait", "say"), Column("Protects", cells.protects),
        Column("Length", "lasts"), Column("Ended", "ended", "never"), Column("Lasted", "ran"),
        Column("Of it away", "away"), Column("How it ended", cells.how))),
    Table("runs", "Runs", (
        Column("Began", "at"), Column("Step", "step"), Column("Run", "say"), Column("Length", "lasts"),
        Column("Ended", "ended", "never"), Column("Lasted", "ran"), Column("How it ended", cells.how))),
    Table("questions", "Questions of the runs", (
        Column("Asked", "at"), Column("Run", "say"), Column("Question", cells.question),
        Column("Answered", "answered", "never"), Column("Answer", "answer", "none"), *_HEARD)),
    Table("timers", "The mechanic's own timers", (
        Column("Began", "at"), Column("Step", "step"), Column("Length", "lasts"), Column("Ended", "ended", "never"),
        Column("How it ended", cells.how))),
    Table("readings", "Values nobody asked for", (*_AT, Column("Value", cells.quantity), *_HEARD)),
    Table("left_open", "Steps left open", (
        *_AT, *_HEARD, Column("Closed", "closed", "still open"), Column("Outcome", "outcome"))),
    Table("left_out", "Steps left out", (*_AT, Column("Reason", "reason", "none given"), *_HEARD)),
    Table("memos", "Spoken memos", (
        *_AT, Column("Memo", "memo"), Column("Length", "ms"), Column("Sound", cells.memo), Column("File", "file"),
        Column("Draft, by machine", "draft"))),
    Table("clips", "Sound kept of answers", (
        *_AT, Column("Of line", "of_line"), Column("Answer", "answer"), Column("Length", "ms"), Column("Sound", cells.clip),
        Column("File", "file"), Column("SHA-256", "sha256")), folded=True),
    Table("rooms", "How well it could hear", (
        *_AT, Column("Verdict", "verdict"), Column("Noise, below full scale", cells.decibels("noise_db")),
        Column("Speech", cells.decibels("speech_db")), Column("Speech above noise", cells.decibels("ratio_db")),
        Column("Overdriven", cells.percent("clipped")), Column("Advice", "advice"))),
    Table("losses", "Parts that were gone", (
        *_AT, Column("Part", "part"), Column("Why", "why"), Column("Back", "found", "not again"))),
    Table("faults", "What failed for a moment", (
        *_AT, Column("Part", "part"), Column("What", "what"), Column("By, or for", "ms"))),
    Table("voices", "Voice set", (
        *_AT, Column("To", "word"), Column("Speed", cells.percent("speed")),
        Column("Loudness", cells.decibels("loudness")), *_HEARD)),
    Table("gaps", "Gaps", (
        Column("Left", "left"), Column("How", "how"), Column("Went on", "at", "not yet"), Column("Away", "away"),
        Column("Machine not restarted", "same_boot"), Column("Bytes cut off", "torn_bytes"),
        Column("Shown on resuming", "proved"))),
    Table("pauses", "Pauses", (*_AT, Column("Ended", "ended", "never"), *_HEARD)),
    Table("emergencies", "Emergencies", (*_AT, Column("Ended", "ended", "never"), *_HEARD)),
    Table("misunderstood", "Not understood", (*_AT, Column("What", "what"), *_HEARD)),
    Table("refusals", "Refused", (*_AT, Column("Act", "act"), Column("Why", "why"), *_HEARD)),
    Table("steps", "Steps in order", (
        Column("Began", "at"), Column("Stage", "stage"), Column("Step", cells.said_step), Column("Words", "say"),
        Column("Outcome", "outcome"), Column("Took", "took")), folded=True),
    Table("entries", "Every entry of the log", (
        Column("Line", "line"), Column("Time", "at"), Column("Entry", cells.event), Column("Step", "step"),
        Column("What it says", cells.fields), *_HEARD), folded=True),
)


def tables(data: Row, folded: bool) -> Iterator[tuple[Table, list[str], list[list[str]]]]:
    """The tables that have rows, each with headings and cells."""
    days = over_days(data)
    for table in TABLES:
        found = table.filled(data[table.key], days) if table.folded == folded else ([], [])
        if found[1]:
            yield (table, *found)


def empty(data: Row) -> str:
    """Captions of the tables without rows: what did not happen."""
    missing = (table.caption for table in TABLES
               if not table.folded and not any(map(table.lines, data[table.key])))
    return ", ".join(map(str.lower, missing)) or "all of it happened"
