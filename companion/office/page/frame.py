"""What every page has: its head, the ways to the other pages, how old the index is, and the foot."""
from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Mapping
from urllib.parse import quote, urlencode

from companion.office.page.desk import Desk, Sight
from companion.office.review_log.telling import warnings
from companion.office.record.markup import Inside, Markup, join, tag

PAGES = (("1", "/jobs", "Jobs"), ("2", "/trends", "Trends"), ("3", "/cards", "Cards"), ("4", "/office", "Office log"),
         ("5", "/help", "Help"))
"""Key, address and name of each page."""


@dataclass(frozen=True)
class Frame:
    """What goes round a page: who serves it and what is true of all pages at this moment."""

    desk: Desk
    sight: Sight
    token: str
    """Stands in every form."""
    back: str = ""
    """The list that the reader came from, an address of `asked.own_list`; "" for the list of all jobs."""

    def page(self, heading: str, *main: Inside, here: str = "", above: Inside = (), stamp: str = "") -> str:
        """A whole page. `here`: its address among `PAGES`; `above`: what comes before the heading; `stamp`: what must
        be seen first."""
        first = [tag("p", stamp, class_="stamp")] if stamp else []
        body = tag(
            "body", tag("a", "Skip to the content", href="#content", class_="skip"),
            tag("header", self._name(), _ways(here)),
            tag("main", first, self._alarm(), above, tag("h1", heading), *main, id="content", tabindex="-1"),
            tag("footer", self._age(), _FOOT))
        return whole(f"{heading} – job companion", body)

    @property
    def may_write(self) -> bool:
        """Whether the office's log takes more from here; while it does not, no form is offered."""
        return not self._no_forms

    def instead(self) -> Markup:
        """What stands where the forms would be; nothing where they are."""
        return tag("p", f"{self._no_forms}.") if self._no_forms else join()

    @cached_property
    def _no_forms(self) -> str:
        if not self.sight.reviewed.sound:
            return "Nothing can be signed off, replied or approved while the office's log is damaged or in doubt"
        return self.desk.own_fault(self.sight.reviewed)

    def form(self, action: str, *inside: Inside, **attributes: str) -> Markup:
        """A form that writes."""
        hidden = tag("input", type="hidden", name="token", value=self.token)
        return tag("form", hidden, *inside, method="post", action=action, **attributes)

    def _name(self) -> Markup:
        return tag("p", tag("strong", "Job companion"), f" – {self.desk.folder.resolve().name}", class_="name")

    def _alarm(self) -> Markup:
        """What is wrong with the desk itself."""
        said, reviewed = [], self.sight.reviewed
        if reviewed.broken:
            said.append(f"The office's log was changed after it was written, at line {reviewed.broken}. Whatever was "
                        "signed, replied or approved on that line and after it does not count, and nothing can be "
                        "signed now. Restore office/review.jsonl from a copy that is known to be good. For the "
                        f"technician: {reviewed.why}.")
        said += [f"{doubt}. Nothing can be signed now. Restore it from a copy; or, if you know why, say so with the command: "
                 "companion office FOLDER accept --by NAME --reason TEXT" for doubt in reviewed.doubts]
        said += [f"{words}." for words in warnings(replace(reviewed, broken=0, doubts=()))]
        if self.desk.failed:
            said.append(f"The last look at the folder failed: {self.desk.failed}. The pages show what was known "
                        "before.")
        return tag("div", [tag("p", one) for one in said], class_="alarm", role="alert") if said else join()

    def _age(self) -> Markup:
        logs = f"{count(self.sight.logs, 'log')} indexed, folder looked at on {moment(self.sight.at)} UTC."
        if self.desk.progress:
            return tag("p", logs, " Looking again: ", tag("strong", self.desk.progress),
                       ". Load the page again to see more.", class_="age")
        return self.form("/look", tag("p", logs, " ", button("Look again", "l")), class_="age")


_FOOT = tag("p", "All times are UTC. The logs are the evidence, not this page. ",
            tag("span", "Keys: Alt and the small sign in a box (Firefox: Alt and Shift; Mac: Control and Option).",
                class_="hint"))


def whole(title: str, body: Markup) -> str:
    """A document round its body."""
    head = tag("head", tag("meta", charset="utf-8"), tag("title", title),
               tag("link", rel="stylesheet", href="/page.css"),
               tag("meta", name="viewport", content="width=device-width, initial-scale=1"),
               tag("meta", name="color-scheme", content="light dark"))
    return "<!DOCTYPE html>\n" + tag("html", head, body, lang="en") + "\n"


def _ways(here: str) -> Markup:
    return tag("nav", tag("ul", [tag("li", link(name, address, key, aria_current="page" * (address == here)))
                                 for key, address, name in PAGES]), aria_label="Pages")


def link(words: Inside, address: str, key: str = "", **attributes: str) -> Markup:
    """A link; `key` is shown beside it, for the eye only."""
    return tag("a", words, _key(key), href=address, accesskey=key, **attributes)


def button(words: str, key: str = "", **attributes: str) -> Markup:
    """What sends a form."""
    return tag("button", words, _key(key), type="submit", accesskey=key, **attributes)


def _key(key: str) -> Markup:
    return tag("kbd", key, aria_hidden="true") if key else join()


def table(caption: str, heads: list[str], rows: list[list[Inside]], **attributes: str) -> Markup:
    """A table whose first cell heads its row. A narrow screen shows it as a list; the roles keep it a table."""
    top = tag("tr", [tag("th", head, scope="col", role="columnheader") for head in heads], role="row")
    lines = [tag("tr", tag("th", row[0], scope="row", role="rowheader"),
                 [tag("td", cell, role="cell", data_head=head) for head, cell in zip(heads[1:], row[1:])], role="row")
             for row in rows]
    return tag("table", tag("caption", caption), tag("thead", top, role="rowgroup"),
               tag("tbody", lines, role="rowgroup"), role="table", **attributes)


def facts(caption: str, rows: Mapping[str, Any]) -> Markup:
    """A table of names and what belongs to them; what is empty is left out."""
    lines = [tag("tr", tag("th", name, scope="row"), tag("td", said)) for name, said in rows.items() if said]
    return tag("table", tag("caption", caption), tag("tbody", lines), class_="facts")


def weight(severity: str) -> Markup:
    """How heavy a finding is, as a word on its colour."""
    return tag("span", severity or "clean", class_=f"weight {severity or 'clean'}")


def practice() -> Markup:
    """Marks a job on a card of invented figures."""
    return tag("span", "practice", class_="practice")


def job_name(log: str) -> str:
    """What a job is called: its log's name without the ending, where that leaves something to read."""
    name = log.removesuffix(".jsonl")
    return name if name.strip() else log


def job_address(log: str, back: str = "", **query: Any) -> str:
    """Where the page of a job is, by its log's name. `back`: the list that leads there, as in `Frame`."""
    asked = urlencode({name: value for name, value in {**query, "from": back}.items() if value})
    return f"/job/{quote(log, safe='')}" + (f"?{asked}" if asked else "")


def count(number: int, noun: str) -> str:
    """"1 job", "2,000 jobs"."""
    return f"{number:,} {noun}{'' if number == 1 else 's'}"


def moment(at: str) -> str:
    """A time of a log, to the minute."""
    return at[:16].replace("T", " ")


def short(text: str, most: int = 160) -> str:
    """A long text cut."""
    return text if len(text) <= most else text[:most - 1].rstrip() + "…"
