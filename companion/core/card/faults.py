"""Faults of form in plain English: what pydantic found, the line it stands on, the key that was perhaps meant."""
from __future__ import annotations

from difflib import get_close_matches
from itertools import islice
from typing import Callable, Iterable

from pydantic_core import ErrorDetails

from companion.core.card import answer_form, form
from companion.core.card.fields import shown
from companion.core.card.text import Fault, Path, Tree

_OF_LISTS = {"cautions": form.CautionForm, "clocks": form.ClockForm, "tools": form.ItemForm, "parts": form.ItemForm,
             "stages": form.StageForm, "steps": form.StepForm}
_OF_KEYS = {"run": answer_form.RunForm, "makes_safe": form.MakesSafeForm, "cylinders": form.CylindersForm,
            "opens": form.OpensForm, "adaptor": answer_form.AdaptorForm, "wiring": answer_form.SoundForm,
            "driver": answer_form.SoundForm, "swap": answer_form.SoundForm, answer_form.TAG + "bolts": form.BoltsForm,
            answer_form.TAG + "tool": answer_form.ToolForm, answer_form.TAG + "cylinder": answer_form.CylinderForm,
            answer_form.TAG + "fault": answer_form.FaultForm,
            answer_form.TAG + "step": form.StepForm, answer_form.TAG + "group": form.GroupForm,
            answer_form.TAG + "choice": answer_form.ChoiceForm, answer_form.TAG + "value": answer_form.ValueForm,
            answer_form.TAG + "count": answer_form.CountForm, answer_form.TAG + "codes": answer_form.CodesForm,
            answer_form.TAG + "spelling": answer_form.SpellingForm}


def nearest(word: str, known: Iterable[str]) -> str:
    """The known word that was perhaps meant, or "": of like length, and begun or ended alike."""
    likely = (other for other in known if abs(len(other) - len(word)) <= 4 and other
              and (other[0] == word[:1] or other[-1] == word[-1:]))
    close = get_close_matches(word, list(islice(likely, 100)), n=1, cutoff=0.7)
    return close[0] if close else ""


def meant(word: str, known: Iterable[str]) -> str:
    """`; did you mean "…"?`, or nothing."""
    close = nearest(word, known)
    return f'; did you mean "{close}"?' if close else ""


def path_of(error: ErrorDetails) -> Path:
    """Where on the card the error is."""
    return tuple(part for part in error["loc"] if part != "[key]" and not str(part).startswith(answer_form.TAG))


def known_keys(error: ErrorDetails) -> tuple[str, ...]:
    """The keys of the form in which the error lies."""
    around = error["loc"][:-1]
    if not around:
        return tuple(form.CardForm.model_fields)
    before = around[-2] if len(around) > 1 else ""
    found = _OF_LISTS.get(str(before)) or _OF_KEYS.get(str(around[-1]))
    return tuple(found.model_fields) if found else ()


def misspelt_answer(error: ErrorDetails) -> tuple[str, str]:
    """The key of an answer without a kind that was perhaps meant as one, and that kind; or ("", "")."""
    found = error["input"] if isinstance(error["input"], dict) else {}
    pairs = ((key, nearest(key, answer_form.ANSWER_KEYS)) for key in list(found)[:20])
    return next(((key, close) for key, close in pairs if close), ("", ""))


def fault_of(error: ErrorDetails, tree: Tree) -> Fault:
    """One error of form as a fault."""
    path = path_of(error)
    key = next((part for part in reversed(path) if isinstance(part, str)), "a job card")
    key = f"an entry of {key}" if path and isinstance(path[-1], int) else key
    write = _WORDINGS.get(error["type"])
    text = write(key, error) if write else f"{key}: {error['msg']}"
    return Fault(tree.line(path), text)


def _unknown_key(key: str, error: ErrorDetails) -> str:
    return f'unknown key "{key[:40]}"' + meant(key, known_keys(error))


def _missing(key: str, error: ErrorDetails) -> str:
    return f'the key "{key}" must stand here, but is missing'


def _must(what: str) -> Callable[[str, ErrorDetails], str]:
    return lambda key, error: f"{key} must {what.format(**error.get('ctx', {}))}, not {_found(error)}"


def _found(error: ErrorDetails) -> str:
    return str(len(error["input"])) if error["type"] in ("too_short", "too_long") else shown(error["input"])


def _answer_kind(key: str, error: ErrorDetails) -> str:
    wrong, close = misspelt_answer(error)
    return f'unknown key "{wrong[:40]}"; did you mean "{close}"?' if wrong else f"{key} {error['msg']}"


_WORDINGS: dict[str, Callable[[str, ErrorDetails], str]] = {
    "extra_forbidden": _unknown_key, "missing": _missing, "answer_kind": _answer_kind,
    "must": lambda key, error: f"{key} {error['msg']}",
    "literal_error": _must("be {expected}"), "tuple_type": _must("be a list"), "dict_type": _must("hold keys"),
    "model_type": _must("hold keys"), "model_attributes_type": _must("hold keys"),
    "greater_than_equal": _must("be at least {ge}"), "less_than_equal": _must("be at most {le}"),
    "too_short": _must("have at least {min_length} entries"), "too_long": _must("have at most {max_length} entries"),
}


