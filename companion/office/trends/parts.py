"""What was measured around a part, by its part number: leak-off, resistance, and what the controller learned.

Leak-off is read on every cylinder before the part is renewed, so the cylinder worked on and the others are told
apart. Of the learning the index knows values whose name speaks of it, and how long its stage took: where it had to be
done twice, long.
"""
from __future__ import annotations

import re
from dataclasses import dataclass

from companion.core.numbers import say_number
from companion.office.review.query import Filters
from companion.office.trends.ask import Database, ask


@dataclass(frozen=True)
class PartFigure:
    """One figure of the jobs with one part number, in `unit`."""

    part: str
    """The part number or code; "" where the job names none."""
    name: str
    """The value's name, and of which cylinders; or that of the stage."""
    unit: str
    readings: int
    jobs: int
    median: float
    lower: float
    """First quartile: a quarter of the readings lie below."""
    upper: float
    """Third quartile."""
    least: float
    most: float


def part_figures(db: Database, filters: Filters = Filters()) -> list[PartFigure]:
    """By part number, then by name. The last reading of a step counts, and for times only jobs with a proper end."""
    names = [name for name, in db.execute('SELECT DISTINCT name FROM "values"').fetchall() if WANTED.search(name)]
    return [PartFigure(*row) for row in ask(db, filters, _FIGURES, wanted=names, spoken=SPOKEN)]


WANTED = re.compile("leak.?off|resistance|learn", re.IGNORECASE)
"""Names of the values that count; looked up once, since the database is slow with expressions."""
SPOKEN = [f"cylinder {say_number(str(number))}" for number in range(1, 33)]
"""How the answer names the cylinder worked on, from the first; the readings have it in figures."""

_FIGURES = """WITH places AS (SELECT *, (row_number() OVER ())::INTEGER AS place FROM chosen),
    kept AS (SELECT place, item, name, unit, arg_max(value, line) AS value FROM "values" JOIN places USING (log)
             WHERE list_contains($wanted, name) GROUP BY place, step, item, name, unit),
    placed AS (SELECT place, part, name, unit, value, regexp_extract(item, '[0-9]+') AS here,
                      if(cylinder IN $spoken, list_position($spoken, cylinder)::VARCHAR,
                         regexp_extract(cylinder, '[0-9]+')) AS worked_on
               FROM kept JOIN places USING (place)),
    figures AS (
        SELECT place, part, unit, value, CASE WHEN here = '' THEN name WHEN worked_on = '' THEN name || ', any cylinder'
               WHEN here = worked_on THEN name || ', cylinder worked on' ELSE name || ', other cylinders' END AS name
        FROM placed
        UNION ALL BY NAME
        SELECT place, part, 'min' AS unit, stages.worked_ms / 60000 AS value, 'time of stage ' || stage AS name
        FROM stages JOIN places USING (log)
        WHERE stage ILIKE '%learn%' AND stages.worked_ms > 0 AND finished AND NOT stopped),
    told AS (SELECT part, name, unit, count(*) AS readings, count(DISTINCT place) AS jobs,
                    quantile_cont(value, [0.5, 0.25, 0.75]) AS middle, min(value) AS least, max(value) AS most
             FROM figures GROUP BY part, name, unit)
    SELECT part, name, unit, readings, jobs, middle[1], middle[2], middle[3], least, most FROM told ORDER BY ALL"""
