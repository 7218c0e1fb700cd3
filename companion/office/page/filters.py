"""The form of the filters. It is sent as an address, so that a list can be kept, sent and gone back to."""
from __future__ import annotations

from dataclasses import asdict, fields
from typing import Mapping

from companion.office.findings.kinds import KINDS
from companion.office.page.asked import CHOICES, LONGEST, Asked, View
from companion.office.page.frame import Frame, button
from companion.office.record.markup import Markup, join, tag

LABELS = {"text": "Words in a finding or a log's name", "signed": "Signed off", "answered": "Replied to",
          "severity": "With a finding that is", "finding": "Finding", "since": "Begun on or after",
          "until": "Begun on or before", "mechanic": "Mechanic", "vehicle": "Vehicle, or its end", "card": "Card",
          "kind": "Practice or real", "order": "Order"}
"""What each filter is called, in the order of the form."""
_FIRST = ("text", "signed")
"""Those that are never folded."""
MOST_CHOICES = 300
"""Of mechanics or cards in a list to choose from; more are typed."""
_WORDS = {("finding", "any"): "any finding", ("finding", "none"): "no finding", ("order", "worst"): "worst first",
          ("order", "newest"): "newest first", ("order", "oldest"): "oldest first"}
_ANY = Markup('<option value="">any</option>')
"""Written out, since `tag` leaves away an attribute without a value."""


def filters(frame: Frame, view: View) -> Markup:
    """The form, with what is asked now in its fields. Words to look for stand open; the rest is folded."""
    known, now = frame.sight.known, {**asdict(view.asked), "order": view.order}
    folded = [name for name in LABELS if name not in _FIRST and (name != "order" or view.at == "/jobs")]
    used = sum(bool(now[name]) for name in folded if name != "order")
    first = [_field(name, now[name], known) for name in _FIRST]
    rest = tag("div", [_field(name, now[name], known) for name in folded], class_="fields")
    more = "More filters: finding, day, mechanic, vehicle, card" + (f" ({used} set)" if used else "")
    return tag(
        "form", tag("div", first, tag("p", button("Show", "w")), class_="fields"),
        tag("details", tag("summary", more), rest),
        method="get", action=view.at, role="search", aria_label="Filters", class_="filters")


def chosen(view: View) -> Markup:
    """Each filter that is set, as a link that takes it away."""
    asked = [(name, value) for name, value in asdict(view.asked).items() if value]
    if not asked:
        return join()
    each = [tag("li", _set(view, name, f"{LABELS[name]}: {_words(name, value)}")) for name, value in asked]
    if len(asked) > 1:
        each.append(tag("li", tag("a", "Clear all", href=view.at)))
    return tag("ul", each, class_="chosen", aria_label="Filters that are set")


def _set(view: View, name: str, words: str) -> Markup:
    return tag("a", f"{words} ", tag("span", "✕", aria_hidden="true"), href=view.without(**{name: ""}).address(),
               aria_label=f"Take away the filter {words}")


def _field(name: str, value: str, known: Mapping[str, list[str]]) -> Markup:
    field = f"filter-{name}"
    return tag("p", tag("label", LABELS[name], for_=field), _box(name, value, field, known), class_=name)


def _box(name: str, value: str, field: str, known: Mapping[str, list[str]]) -> Markup:
    listed = list(CHOICES.get(name, known.get(name, ())))
    if name == "finding":
        listed = [kind for kind in listed if kind not in KINDS or kind in known["finding"] or kind == value]
    if not listed or len(listed) > MOST_CHOICES or (value and value not in listed):
        kind = "date" if name in ("since", "until") else "text"
        key = "s" if name == "text" else ""
        return tag("input", id=field, name=name, value=value, maxlength=LONGEST, type=kind, accesskey=key)
    options = [tag("option", _words(name, one), value=one, selected="selected" * (one == value)) for one in listed]
    return tag("select", _ANY if name != "order" else "", options, id=field, name=name)


def _words(name: str, value: str) -> str:
    return _WORDS.get((name, value), value)


assert set(LABELS) == {one.name for one in fields(Asked)} | {"order"}
