"""The record as one HTML page: no script, nothing from elsewhere, every text escaped."""
from __future__ import annotations

import base64
from hashlib import sha256
from importlib.resources import files

from companion.office.record.markup import Inside, Markup, join, tag
from companion.office.record.picture import picture
from companion.office.record.side_by_side import side_by_side
from companion.office.record.sound import playable, players
from companion.office.record.rows import Row
from companion.office.record.summary import banner, facts, title
from companion.office.record.tables import Table, empty, tables


def as_page(data: Row, folder: str = "") -> str:
    """The page of the record `data`, as `record_of` gives it.

    `folder`: the way from the page to the log's folder, as a URL ending in "/"; "" where it is the same."""
    style = files("companion.office.record").joinpath("page.css").read_text("utf-8") + _margin(data["stamp"])
    policy = tag("meta", http_equiv="Content-Security-Policy", content=_policy(style, bool(playable(data))))
    head = tag(
        "head", tag("meta", charset="utf-8"), policy,
        tag("meta", name="viewport", content="width=device-width, initial-scale=1"),
        tag("meta", name="referrer", content="no-referrer"), tag("title", f"{title(data)} – {_state(data)}"),
        tag("style", Markup(style)))
    body = tag("body", _stamp(data["stamp"]), tag("header", _top(data)), tag("main", _main(data, folder)),
               tag("footer", _FOOT))
    return "<!DOCTYPE html>\n" + tag("html", head, body, lang="en") + "\n"


_FOOT = tag("p", "Made from the log's entries alone. All times are UTC. The log and its closing seal are the evidence, "
                 "not this page. Personal answers shown here stay here when the file beside the log is erased.")


_BAD = {"outside", "wrong", "too close to call", "unfit", "stands out", "outside a limit", "disagree", "they disagree",
        "still there", "came back", "new since then", "our own, still there", "different", "does not fit"}
"""A line with such a cell is in bold."""


def _policy(style: str, sound: bool) -> str:
    """Nothing loads but memos, nothing runs; only this very style applies."""
    digest = base64.b64encode(sha256(style.encode("utf-8")).digest()).decode("ascii")
    media = "; media-src 'self'" if sound else ""
    return f"default-src 'none'; style-src 'sha256-{digest}'{media}; base-uri 'none'; form-action 'none'"


def _margin(stamp: str) -> str:
    """The stamp in the margin of each printed page, where the printer's program knows margins."""
    return f'\n@page {{ @top-center {{ content: "{stamp}"; font: bold 11pt sans-serif }} }}\n' if stamp else ""


def _stamp(stamp: str) -> Markup:
    """The stamp above the page, and once more as a mark that print repeats on each page."""
    if not stamp:
        return join()
    return join(tag("p", stamp, class_="stamp"), tag("div", stamp, class_="watermark", aria_hidden="true"))


def _state(data: Row) -> str:
    if data["check"]["wrong"]:
        return "does not hold"
    return "job record" if data["check"]["finished"] else "unfinished job record"


def _top(data: Row) -> Markup:
    wrong = banner(data)
    return join(
        tag("h1", title(data)),
        tag("p", data["card"]["defers"], class_="defers") if data["card"]["defers"] else "",
        tag("div", [tag("p", said) for said in wrong], class_="banner", role="alert") if wrong else "",
        tag("table", tag("caption", "This job"), tag("tbody", [_fact(*fact) for fact in facts(data)]), class_="facts"))


def _fact(heading: str, said: list[str]) -> Markup:
    code = heading in ("Card SHA-256", "Tool list SHA-256", "Device key", "Closing seal")
    lines = [tag("div", part) for part in said]
    return tag("tr", tag("th", heading, scope="row"), tag("td", lines, class_="code" * code))


def _main(data: Row, folder: str) -> Markup:
    drawn = {"comparisons": lambda: side_by_side(data), "memos": lambda: players(data, folder)}
    look = [tag("ul", [tag("li", said) for said in data["look"]])]
    parts = [_section("Look at this first", look)] if data["look"] else []
    parts.append(_section("Stages in time", picture(data)))
    for found in tables(data, folded=False):
        parts.append(_section(found[0].caption, drawn.get(found[0].key, str)(), _table(*found)))
    parts.append(_section("None of these", tag("p", f"{empty(data)}.")))
    parts += [_section(found[0].caption, tag("details", tag("summary", f"{len(found[2])} rows"), _table(*found)))
              for found in tables(data, folded=True)]
    return join(parts)


def _section(heading: str, *inside: Inside) -> Markup:
    return tag("section", tag("h2", heading), *inside)


def _table(table: Table, heads: list[str], rows: list[list[str]]) -> Markup:
    """A table that a narrow screen shows as a list; the roles keep it a table for a screen reader even then."""
    top = tag("tr", [tag("th", head, scope="col", role="columnheader") for head in heads], role="row")
    lines = [tag("tr", [_cell(head, cell) for head, cell in zip(heads, row)], role="row",
                 class_="bad" * bool(_BAD & set(row))) for row in rows]
    return tag("table", tag("caption", f"{table.caption}, {len(rows)}"), tag("thead", top, role="rowgroup"),
               tag("tbody", lines, role="rowgroup"), role="table", class_=table.key)


def _cell(head: str, cell: str) -> Markup:
    """A cell; one with a word that no column could hold may break it anywhere."""
    long = any(len(word) > 20 for word in cell.split())
    return tag("td", cell, role="cell", data_head=head, class_="long" * long)
