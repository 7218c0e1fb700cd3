"""A paper as one HTML page: no script, nothing from elsewhere, every text escaped."""
from __future__ import annotations

import base64
from hashlib import sha256
from importlib.resources import files
from typing import Any, Callable, Iterator, Optional
from urllib.parse import quote

from companion.office.record.markup import Inside, Markup, join, tag
from companion.office.record.paper.blocks import (
    Block, Fact, Facts, Grid, Label, Paper, Point, Points, Says, Seal, Section, Sound)
from companion.office.record.paper.chart import Chart
from companion.office.record.paper.qr import squares
from companion.office.record.paper.svg import drawing


Bytes = Callable[[str], bytes]
"""A sound file's name to its bytes, b"" for one that is left out."""


def as_html(paper: Paper, sound: Optional[Bytes] = None) -> str:
    """The page, with its sound files within it. Where `sound` is None they are links to files beside the page."""
    style = files("companion.office.record").joinpath("page.css").read_text("utf-8")
    style += _margin(paper.stamp) + _heads(paper)
    media = ("'self'" if sound is None else "data:") if any(isinstance(one, Sound) for one in _blocks(paper)) else ""
    head = tag(
        "head", tag("meta", charset="utf-8"),
        tag("meta", http_equiv="Content-Security-Policy", content=_policy(style, media)),
        tag("meta", name="viewport", content="width=device-width, initial-scale=1"),
        tag("meta", name="referrer", content="no-referrer"), tag("title", f"{paper.title} – {paper.state}"),
        tag("style", Markup(style)))
    main = tag("main", [_section(section, sound) for section in paper.sections])
    body = tag("body", _stamp(paper.stamp), tag("header", _top(paper)), main, tag("footer", tag("p", paper.foot)),
               class_=paper.kind)
    return "<!DOCTYPE html>\n" + tag("html", head, body, lang="en") + "\n"


_MANY = 100
"""Rows from which a table's headings for narrow screens stand once in the style, not in each cell: half the bytes."""


def _blocks(paper: Paper) -> Iterator[Block]:
    return (block for section in paper.sections for block in section.blocks)


def _heads(paper: Paper) -> str:
    """The headings of long tables, for narrow screens. They come from the program, not from a log."""
    rules = [f'.{grid.key} td:nth-child({place})::before{{content:"{head}"}}\n'
             for grid in _blocks(paper) if isinstance(grid, Grid) and len(grid.rows) > _MANY
             for place, head in enumerate(grid.heads, 1)]
    return f"@media (max-width:44rem){{\n{''.join(rules)}}}\n" if rules else ""


def _policy(style: str, media: str) -> str:
    """Nothing loads but memos, from `media`, and nothing runs; only this very style applies."""
    digest = base64.b64encode(sha256(style.encode("utf-8")).digest()).decode("ascii")
    source = f"; media-src {media}" if media else ""
    return f"default-src 'none'; style-src 'sha256-{digest}'{source}; base-uri 'none'; form-action 'none'"


def _margin(stamp: str) -> str:
    """The stamp in the margin of each printed page, where the printer's program knows margins."""
    return f'\n@page {{ @top-center {{ content: "{stamp}"; font: bold 11pt sans-serif }} }}\n' if stamp else ""


def _stamp(stamp: str) -> Markup:
    """The stamp above the page, and once more as a mark that print repeats on each page."""
    if not stamp:
        return join()
    return join(tag("aside", stamp, class_="stamp", aria_label="About this paper"),
                tag("div", stamp, class_="watermark", aria_hidden="true"))


def _top(paper: Paper) -> Markup:
    return join(
        tag("h1", paper.title),
        tag("p", paper.defers, class_="defers") if paper.defers else "",
        tag("div", [tag("p", said) for said in paper.banner], class_="banner", role="alert") if paper.banner else "",
        _facts(paper.head))


def _section(section: Section, sound: Optional[Bytes]) -> Markup:
    inside: Inside = [_block(block, sound) for block in section.blocks]
    if section.folded:
        inside = tag("details", tag("summary", section.folded), inside)
    return tag("section", tag("h2", section.heading), inside)


def _block(block: Block, sound: Optional[Bytes]) -> Markup:
    return _player(block, sound) if isinstance(block, Sound) else _SHOWN[type(block)](block)


def _says(block: Says) -> Markup:
    return tag("p", tag("strong", block.said) if block.strong else block.said)


def _facts(block: Facts) -> Markup:
    return tag("table", tag("caption", block.caption), tag("tbody", [_fact(fact) for fact in block.facts]),
               class_="facts")


def _fact(fact: Fact) -> Markup:
    lines = [tag("div", part) for part in fact.said]
    return tag("tr", tag("th", fact.heading, scope="row"), tag("td", lines, class_="code" * fact.code))


def _points(block: Points) -> Markup:
    return tag("ul", [_point(point) for point in block.points])


def _point(point: Point) -> Markup:
    mark = [tag("strong", point.mark, class_="mark"), " "] if point.mark else []
    links = [[", " if place else " ", tag("a", f"line {line}", href=f"#line-{line}")]
             for place, line in enumerate(point.lines)]
    return tag("li", mark, point.said, links)


def _grid(block: Grid) -> Markup:
    """A table that a narrow screen shows as a list; the roles keep it a table for a screen reader even then."""
    top = tag("tr", [tag("th", head, scope="col", role="columnheader") for head in block.heads], role="row")
    heads = block.heads if len(block.rows) <= _MANY else [""] * len(block.heads)
    lines = [tag("tr", [_cell(head, cell) for head, cell in zip(heads, row)], role="row",
                 id=f"line-{block.lines[place]}" if block.lines else "", class_="bad" * (place in block.bad))
             for place, row in enumerate(block.rows)]
    return tag("table", tag("caption", block.caption), tag("thead", top, role="rowgroup"),
               tag("tbody", lines, role="rowgroup"), role="table", class_=block.key)


def _cell(head: str, cell: str) -> Markup:
    """A cell; one with a word that no column could hold may break it anywhere."""
    long = any(len(word) > 20 for word in cell.split())
    return tag("td", cell, role="cell", data_head=head, class_="long" * long)


def _player(block: Sound, sound: Optional[Bytes]) -> Markup:
    draft = tag("figcaption", f"{block.name}. Draft, by machine: {block.draft or '(none)'}")
    link = f"./{quote(block.file)}"
    if sound is not None:
        held = sound(block.file)
        if not held:
            return tag("figure", draft)
        kind = "flac" if block.file.endswith(".flac") else "wav"
        link = f"data:audio/{kind};base64,{base64.b64encode(held).decode('ascii')}"
    player = tag("audio", controls="controls", preload="none", aria_label=block.name, src=link)
    return tag("figure", player, draft, class_="memo")


def _seal(block: Seal) -> Markup:
    """The letters and words beside the QR code."""
    found = squares(block.encoded)
    code = tag("svg", tag("title", "QR code of the closing seal", id="seal-title"),
               tag("desc", f"It holds the text: {block.encoded}", id="seal-words"), tag("path", d=found.path),
               viewBox=f"0 0 {found.size} {found.size}", width="132", height="132", role="img",
               aria_labelledby="seal-title seal-words", class_="qr")
    words = tag("div", tag("p", block.seal, class_="seal"), tag("p", block.spoken), tag("p", block.says),
                tag("p", f"The QR code holds the text: {block.encoded}"))
    return tag("div", code, words, class_="sealed")


def _label(block: Label) -> Markup:
    return tag("div", tag("p", tag("strong", block.heading)), _facts(Facts(block.heading, block.facts)), class_="label")


_SHOWN: dict[type, Callable[[Any], Markup]] = {
    Says: _says, Facts: _facts, Points: _points, Grid: _grid, Chart: drawing, Seal: _seal, Label: _label}
