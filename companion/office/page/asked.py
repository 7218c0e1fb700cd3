"""What a reader asked of the list of jobs: filters, order and page, exactly as they stand in the address."""
from __future__ import annotations

from dataclasses import asdict, dataclass, fields, replace
from typing import Any, Mapping
from urllib.parse import parse_qsl, urlencode

from companion.errors import BadInput
from companion.office.findings.kinds import KINDS, SEVERITIES
from companion.office.review.query import ORDERS, Filters, must_be_day

LONGEST = 200
"""Characters of one filter."""
MOST_PAGES = 1_000_000


@dataclass(frozen=True)
class Asked(Filters):
    """Filters of the index, and those that take the office's own log or the card into account."""

    signed: str = ""
    """"no" for jobs that nobody has signed off as they now are, "yes" for the others."""
    answered: str = ""
    """"no" for jobs with a serious finding or a fault that nobody has replied to, "yes" for the others."""
    kind: str = ""
    """"practice" for jobs on practice cards, "real" for the others."""

    def where(self) -> tuple[str, dict[str, str]]:
        """See `Filters`; needs the tables that `marks` makes."""
        terms, values = Filters(**{one.name: getattr(self, one.name) for one in fields(Filters)}).where()
        return " AND ".join([terms, *(_TERMS[name, getattr(self, name)] for name in _OWN
                                      if getattr(self, name))]), values


_OWN = ("signed", "answered", "kind")
_TERMS = {("signed", "no"): "log NOT IN (SELECT log FROM signed WHERE fits)",
          ("signed", "yes"): "log IN (SELECT log FROM signed WHERE fits)",
          ("answered", "no"): "log IN (SELECT log FROM unanswered)",
          ("answered", "yes"): "log NOT IN (SELECT log FROM unanswered)",
          ("kind", "practice"): "practice", ("kind", "real"): "NOT practice"}
CHOICES: dict[str, tuple[str, ...]] = {
    "finding": ("any", "none", *KINDS), "severity": SEVERITIES, "signed": ("no", "yes"), "answered": ("no", "yes"),
    "kind": ("practice", "real"), "order": tuple(ORDERS)}
"""The filters that have a choice, and what can be chosen."""


@dataclass(frozen=True)
class View:
    """One page of a list."""

    asked: Asked = Asked()
    order: str = "worst"
    page: int = 1
    """From 1."""
    at: str = "/jobs"
    """The page's own address: of the list, or of the trends."""

    def address(self, **changes: Any) -> str:
        """The address of this view with changes to filters, order or page; what is not asked for is left out. Another
        filter or order begins at the first page."""
        query = {**asdict(self.asked), "order": self.order, "page": "1",
                 **{name: str(to) for name, to in changes.items()}}
        query = {name: to for name, to in query.items() if to and (name, to) not in (("page", "1"), ("order", "worst"))}
        return self.at + (f"?{urlencode(query)}" if query else "")

    def without(self, **changes: str) -> View:
        """This view with changes to its filters, at the first page."""
        return replace(self, asked=replace(self.asked, **changes), page=1)


def own_list(address: str) -> str:
    """An address of the list that asks for something, written anew from what it asks for; "" for any other."""
    path, _, query = address.partition("?")
    try:
        view = view_of(dict(parse_qsl(query, max_num_fields=50)))
    except (BadInput, ValueError):  # no view, or more fields than a form of ours has
        return ""
    made = view.address(page=view.page)
    return made if path == view.at and made != view.at else ""


def view_of(query: Mapping[str, str], at: str = "/jobs") -> View:
    """The view that the query of an address asks for; names it does not know are passed over. Raises BadInput."""
    asked = {one.name: query.get(one.name, "").strip() for one in fields(Asked)}
    for name, value in {**asked, "order": query.get("order", "")}.items():
        if len(value) > LONGEST:
            raise BadInput(name, f"must be at most {LONGEST} characters long", str(len(value)))
        if value and value not in CHOICES.get(name, (value,)):
            raise BadInput(name, f"must be one of {', '.join(CHOICES[name])}", ascii(value)[:60])
    for name in ("since", "until"):
        must_be_day(name, asked[name])
    page = query.get("page", "") or "1"
    if not (page.isascii() and page.isdecimal() and 0 < int(page[:9]) <= MOST_PAGES and len(page) < 9):
        raise BadInput("page", f"must be a whole number from 1 to {MOST_PAGES:,}", ascii(page)[:60])
    return View(Asked(**asked), query.get("order", "") or "worst", int(page), at)
