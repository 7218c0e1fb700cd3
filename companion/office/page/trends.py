"""The trends over the jobs wanted: each with how it is counted, its picture and its table."""
from __future__ import annotations

from companion.office.page.asked import View
from companion.office.page.filters import chosen, filters
from companion.office.page.frame import Frame, count
from companion.office.record.markup import tag
from companion.office.trends.sheets import section, sheets


def trends_page(frame: Frame, view: View) -> str:
    """The page of the jobs that `view` asks for."""
    index = frame.sight.index
    wanted, practice = index.count(view.asked), _practice(frame, view)
    if not wanted:
        shown = [tag("p", "No job is like that.")]
    else:
        shown = [section(sheet) for sheet in sheets(index.db.cursor(), view.asked)]
    return frame.page("Trends", tag("p", f"Of {count(wanted, 'job')}. "), chosen(view), filters(frame, view), *shown,
                      here="/trends",
                      stamp=f"PRACTICE – {practice:,} of these {wanted:,} jobs have invented figures" if practice
                      else "")


def _practice(frame: Frame, view: View) -> int:
    where, values = view.asked.where()
    return frame.sight.index.rows(f"SELECT count(*) AS n FROM jobs WHERE {where} AND practice", values)[0]["n"]
