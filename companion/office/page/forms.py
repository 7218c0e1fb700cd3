"""Forms of the page: their fields, and what is said where one is refused."""
from __future__ import annotations

from dataclasses import dataclass, field as dataclass_field
from typing import Mapping, Optional

from companion.errors import BadInput, CompanionError
from companion.office.page.frame import Frame, button, moment
from companion.office.record.markup import Inside, Markup, join, tag
from companion.office.review_log import Signed
from companion.office.review_log.facts import LONGEST_NAME, LONGEST_WORDS

LABELS = {"by": "Your name", "reason": "Reason", "text": "Reply"}
"""What each field that somebody fills in is called."""


@dataclass(frozen=True)
class Refused:
    """A form that could not be written, with what was typed, so that nothing is typed twice."""

    form: str
    """Its id on the page."""
    why: str
    typed: Mapping[str, str] = dataclass_field(default_factory=dict)
    field: str = ""
    """The name of the field that is wrong; "" where it is not one of them."""

    def alert(self) -> Markup:
        """What the reader hears first."""
        return tag("div", tag("p", tag("strong", "Not written. "), self.why, " ",
                              tag("a", "Go to the form", href=f"#{self.form}")),
                   class_="alarm", role="alert")


def refusal(form: str, error: CompanionError, typed: Mapping[str, str]) -> Refused:
    """Why a form was refused, in the words of the page."""
    if isinstance(error, BadInput) and error.where in LABELS:
        return Refused(form, f"{LABELS[error.where]}: {error.must}; it was {error.found}.", typed, error.where)
    return Refused(form, f"{error}.", typed)


def entry(frame: Frame, action: str, form: str, send: str, words: str, hidden: Mapping[str, str],
          refused: Optional[Refused], note: Inside = (), key: str = "") -> Markup:
    """A form with a name and `words` ("reason" or "text"), to `action`. `form`: its id; `hidden`: what it is about."""
    typed = refused.typed if refused and refused.form == form else {}
    wrong = refused.field if refused and typed else ""
    fields = [_field(form, "by", LONGEST_NAME, typed, wrong, autocomplete="name"),
              _field(form, words, LONGEST_WORDS, typed, wrong)]
    about = [tag("input", type="hidden", name=name, value=value)
             for name, value in {"form": form, "from": frame.back, **hidden}.items() if value]
    said = tag("p", refused.why, class_="wrong", id=f"{form}-wrong") if refused and typed else join()
    return frame.form(action, *about, said, *fields, note, tag("p", button(send, key)), id=form, class_="entry")


def folded(words: str, form: Markup, name: str, refused: Optional[Refused]) -> Markup:
    """A form that opens on demand, and stands open where it was refused."""
    return tag("details", tag("summary", words), form, open="open" if refused and refused.form == name else "")


def written(said: Signed, again: bool = False) -> Markup:
    """What stands above a page after its form was written; `again`: the very same had been written before."""
    where = f"line {said.n + 1:,}, on {moment(said.at)} UTC."
    return tag("p", f"Already written, to the office's log, {where} It was not written again." if again else
               f"Written to the office's log, {where}", class_="written", role="status")


def _field(form: str, name: str, most: int, typed: Mapping[str, str], wrong: str, **attributes: str) -> Markup:
    """One labelled field; the reason and the reply get room for several lines, though the log holds them as one."""
    own = {"id": f"{form}-{name}", "name": name, "required": "required", "maxlength": most, **attributes}
    if name == wrong:  # the reader stands in it at once
        own.update(aria_describedby=f"{form}-wrong", aria_invalid="true", autofocus="autofocus")
    value = typed.get(name, "")
    box = tag("input", type="text", value=value, **own) if name == "by" else tag("textarea", value, rows="3", **own)
    return tag("p", tag("label", LABELS[name], for_=own["id"]), box)
