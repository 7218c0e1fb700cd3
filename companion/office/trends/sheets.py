"""The trends as sheets: a heading, how it is counted, a table, and the pictures that go with it.

The page shows both; a terminal shows heading, words and table.
"""
from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import groupby
from typing import Iterator

from companion.office.record.markup import Markup, tag
from companion.office.review.query import Filters
from companion.office.trends import figures as show
from companion.office.trends import plots
from companion.office.trends.ask import Database
from companion.office.trends.comebacks import DAYS, comeback_rates, comebacks
from companion.office.trends.drift import BASELINE, Drift, drifts, whole
from companion.office.trends.parts import part_figures
from companion.office.trends.rates import GROUPS, Rate, by_group, by_kind
from companion.office.trends.stages import WHOLE, stage_times

MOST_CHARTS = 12
"""Control charts drawn on one sheet: of the tools that drift, the worst first."""
MOST_ROWS = 300
"""Rows of a table."""
MOST_BARS = 40
"""Rows of one drawing; the table has all of them."""


@dataclass(frozen=True)
class Sheet:
    """One trend, ready to be shown."""

    title: str
    says: str
    """How it was counted, in a few sentences."""
    heads: tuple[str, ...]
    rows: list[tuple[str, ...]]
    pictures: Markup = Markup("")
    """Figures in HTML, each with its legend; "" where there is nothing to draw."""


def stage_sheet(db: Database, filters: Filters) -> Sheet:
    times = stage_times(db, filters)
    rows = [(one.card, one.stage, str(one.jobs), show.span(one.median), show.span(one.ninth), show.span(one.estimate),
             show.percent(one.ratio)) for one in times]
    stages = groupby((one for one in times if one.stage != WHOLE), key=lambda one: one.card)
    drawn = [_figure(plots.stage_bars(list(group), place), f"Card {card}. {plots.STAGE_LEGEND}")
             for place, (card, group) in enumerate(stages)]
    return Sheet("Time by stage against the estimate", _STAGE_SAYS,
                 ("Card", "Stage", "Jobs", "Median", "9 in 10 within", "Estimate", "Of the estimate"), rows,
                 _all(drawn))


_STAGE_SAYS = ("Jobs that came to their proper end; time away is left out. A stage that a job goes through several "
               "times, such as once for each wheel, counts once with all its times together: where the card's estimate is for "
               "one time, it comes to far more than 100 %.")


def finding_sheets(db: Database, filters: Filters) -> Iterator[Sheet]:
    """By kind, then by each key of `GROUPS`."""
    says = "Jobs with such a finding, each once, per hundred jobs; 95 % interval after Wilson."
    yield _rates("Findings per hundred jobs, by kind", says, "Finding", by_kind(db, filters), "kind")
    for group in GROUPS:
        yield _rates(f"Jobs with findings per hundred, by {group}", says, group.capitalize(),
                     by_group(db, group, filters), group)


def drift_sheet(db: Database, filters: Filters) -> Sheet:
    """Every series that can be judged, those that drift first, and drawn; the others in one sentence."""
    every = drifts(db, filters)
    found, few = [one for one in every if one.judged], [one for one in every if not one.judged]
    rows = [(one.series.tools_name, one.series.tool, one.series.name, str(one.jobs), one.until, *_stands(one))
            for one in found]
    drawn = [_chart(whole(db, one.series, filters), place)
             for place, one in enumerate(found[:MOST_CHARTS]) if one.drifts]
    return Sheet("Tools: does one drift?", f"{_too_few(few, len(found))}{_DRIFT_SAYS}",
                 ("Tool list", "Tool", "Value", "Jobs", "Last", "Stands", "Shift", "Limit", "Unit", "Jobs outside"),
                 rows, _all(drawn))


def _chart(drift: Drift, place: int) -> Markup:
    series = drift.series
    unit = "percent off the nominal" if series.unit == "%" else series.unit
    return _figure(plots.control_chart(drift, place),
                   f"{series.tool} ({series.tools_name}): {series.name}, {unit}. {plots.CHART_LEGEND}")


_DRIFT_SAYS = (f"Each job is one point, percent off the nominal where there is one. The first {BASELINE} jobs are the "
               "target; a tool drifts when the weighted mean of its later jobs is outside now. About 4 in 1000 steady "
               "tools show. A job counts as at most 3 standard deviations off, so a large shift is shown too small. "
               "Choose a first day, such as that of a calibration, to begin anew.")


def _too_few(few: list[Drift], judged: int) -> str:
    """What cannot be judged yet, and how many jobs it takes; "" where there is nothing of that."""
    if not few and judged:
        return ""
    need = BASELINE + 1
    if not few:
        return f"No tool can be judged yet: {need} jobs with a reading on the same tool are needed. "
    most, least = max(few, key=lambda one: one.jobs), min(one.jobs for one in few)
    tools = "1 tool (with one value read on it) has" if len(few) == 1 else (
        f"{len(few)} tools (each with one value read on it) have")
    last = f", the last of them {need - least} more" if least < most.jobs else ""
    return ("" if judged else "No tool can be judged yet. ") + (
        f"{tools} fewer than {need} jobs yet: the {most.series.tool} ({most.series.name}) needs {need - most.jobs} "
        f"more{last}. ")


def _stands(one: Drift) -> tuple[str, ...]:
    limit = one.mean.highs[-1] - one.mean.target
    return ("drifts" if one.drifts else "steady", show.signed(one.shift), f"± {show.number(limit)}", one.series.unit,
            f"{len(one.single.out)} of the last {len(one.later)}")


def part_sheet(db: Database, filters: Filters) -> Sheet:
    rows = [(one.part or "not named", one.name, one.unit, str(one.readings), str(one.jobs), show.number(one.median),
             f"{show.number(one.lower)} to {show.number(one.upper)}",
             f"{show.number(one.least)} to {show.number(one.most)}")
            for one in sorted(part_figures(db, filters), key=lambda one: not one.part)]
    return Sheet("Leak-off, resistance and learning, by part number",
                 "The number is that of the part fitted; leak-off and resistance were read before it.",
                 ("Part", "Figure", "Unit", "Readings", "Jobs", "Median", "Middle half", "All"), rows)


def comeback_sheets(db: Database, filters: Filters, days: int = DAYS) -> Iterator[Sheet]:
    """The comebacks one by one, then their rates."""
    rows = [(one.day, one.vehicle, one.card, one.cylinder, one.part, f"{one.days:.0f}", one.log, one.before, one.first)
            for one in comebacks(db, filters, days)]
    yield Sheet("Comebacks", f"A job on the same vehicle, card and cylinder within {days} days after a finished one.",
                ("Day", "Vehicle", "Card", "Cylinder", "Part fitted first", "Days after", "Log", "Came back from",
                 "First job"), rows)
    says = f"Of finished jobs that have had their {days} days, per hundred; 95 % interval after Wilson."
    for by, rates in comeback_rates(db, filters, days).items():
        title = f"Comebacks per hundred finished jobs{f', by {by}' if by else ''}"
        yield _rates(title, says, by.capitalize() or "Jobs", rates, f"comeback-{by or 'all'}",
                     "not named" if by else "all")


def sheets(db: Database, filters: Filters = Filters()) -> Iterator[Sheet]:
    """All trends of the jobs wanted, long tables cut."""
    yield from map(_cut, (stage_sheet(db, filters), *finding_sheets(db, filters), drift_sheet(db, filters),
                          part_sheet(db, filters), *comeback_sheets(db, filters)))


def _cut(sheet: Sheet) -> Sheet:
    if len(sheet.rows) <= MOST_ROWS:
        return sheet
    return replace(sheet, rows=sheet.rows[:MOST_ROWS],
                   says=f"{sheet.says} The first {MOST_ROWS} of {len(sheet.rows)} rows; filters show others.")


def section(sheet: Sheet) -> Markup:
    """A sheet for the page."""
    if not sheet.rows:
        return tag("section", tag("h2", sheet.title), tag("p", "Nothing to show yet. ", sheet.says))
    head = tag("tr", [tag("th", one, scope="col") for one in sheet.heads])
    body = [tag("tr", [tag("td", cell, data_head=one) for one, cell in zip(sheet.heads, row)]) for row in sheet.rows]
    table = tag("table", tag("caption", sheet.title), tag("thead", head), tag("tbody", body), role="table")
    return tag("section", tag("h2", sheet.title), tag("p", sheet.says), sheet.pictures, table)


def _rates(title: str, says: str, head: str, rates: list[Rate], name: str, nameless: str = "not named") -> Sheet:
    """In the order given, but what a log does not name comes last."""
    rates = sorted(rates, key=lambda one: not one.name)
    rows = [(one.name or nameless, str(one.hits), str(one.jobs), f"{one.hundred:.1f}", show.interval(one))
            for one in rates]
    drawn = [_figure(plots.rate_bars(title, _shown(rates, name), name, nameless), plots.RATE_LEGEND)] if rates else []
    return Sheet(title, says, (head, "With", "Of", "Per hundred", "95 % interval"), rows, _all(drawn))


def _shown(rates: list[Rate], name: str) -> list[Rate]:
    """What is drawn where there are too many: the last months, else those of the most jobs, or the most hits."""
    if name.endswith("month"):
        return rates[-MOST_BARS:]
    largest = sorted(range(len(rates)), key=lambda place: (-rates[place].jobs, -rates[place].hits))[:MOST_BARS]
    return [rates[place] for place in sorted(largest)]


def _figure(drawn: Markup, legend: str) -> Markup:
    return tag("figure", drawn, tag("figcaption", legend))


def _all(drawn: list[Markup]) -> Markup:
    return Markup("".join(drawn))
