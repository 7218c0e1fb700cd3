"""From outcomes to figures: shares with their intervals, rates with their bounds, confusions, the trade-off curve."""
from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import Any

import numpy as np

from companion.edge.bench.ear.outcomes import Outcome, groups
from companion.edge.bench.ear.word_errors import WordErrors
from companion.trade.intervals import rate_at_most, share_at_most, wilson

_CURVE = 60
"""Points of a trade-off curve, at most."""


def figures(found: list[Outcome]) -> dict[str, Any]:
    """Everything but times, as it goes into the JSON. All shares are 0 to 1."""
    said = [outcome for outcome in found if outcome.kind == "said"]
    other = [outcome for outcome in found if outcome.kind != "said"]
    return {
        "accuracy": {"set": _accuracy(said, "set"), "noise": _accuracy([o for o in said if o.noise], "noise"),
                     "voice": _accuracy(said, "voice")},
        "wrong": [wrong(group, ear=ear, condition=condition)
                  for (ear, condition), group in groups(said, "ear", "condition").items()],
        "false_accepts": [false_accepts(group, ear=ear, on=on)
                          for (ear, on), group in groups(other, "ear", "set").items()],
        "trade_off": {ear: trade_off(group) for (ear,), group in groups(found, "ear").items()},
        "word_errors": [_words(group, ear=ear, condition=condition) for (ear, condition), group
                        in groups((o for o in said if o.ear == "free"), "ear", "condition").items()],
        "confusions": [{"ear": ear, "set": name, "taken_for": confusions(group)}
                       for (ear, name), group in groups(said, "ear", "set").items()],
    }


def _accuracy(said: list[Outcome], by: str) -> list[dict[str, Any]]:
    return [right(group, ear=ear, condition=condition, **{by: name})
            for (name, ear, condition), group in groups(said, by, "ear", "condition").items()]


def right(group: list[Outcome], **names: str) -> dict[str, Any]:
    """How many were accepted and exactly right."""
    hits = sum(outcome.right for outcome in group)
    low, high = wilson(hits, len(group))
    return {**names, "said": len(group), "right": hits, "share": round(hits / len(group), 4),
            "interval": [round(low, 4), round(high, 4)]}


def wrong(group: list[Outcome], **names: str) -> dict[str, Any]:
    """How many were accepted as something else: at the first hearing, and without being asked back."""
    first, sure = sum(outcome.wrong for outcome in group), sum(outcome.wrong_and_sure for outcome in group)
    count = len(group)
    return {**names, "said": count, "first": first, "first_per_1000": round(1000 * first / count, 2),
            "first_at_most": round(1000 * share_at_most(first, count), 2), "sure": sure,
            "sure_per_1000": round(1000 * sure / count, 2), "sure_at_most": round(1000 * share_at_most(sure, count), 2)}


def false_accepts(group: list[Outcome], **names: str) -> dict[str, Any]:
    """How often an hour what was not meant was accepted, for acts that change the record and for harmless ones."""
    hours = sum(outcome.seconds for outcome in group) / 3600
    found: dict[str, Any] = {**names, "hours": round(hours, 4)}
    for name, records in (("records", True), ("harmless", False)):
        accepted = [heard for outcome in group for heard in outcome.accepted if heard.records == records]
        sure = sum(heard.sure for heard in accepted)
        found[name] = {"accepted": len(accepted), "per_hour": round(len(accepted) / hours, 2),
                       "at_most": round(rate_at_most(len(accepted), hours), 2), "sure": sure,
                       "sure_per_hour": round(sure / hours, 2), "sure_at_most": round(rate_at_most(sure, hours), 2)}
    return found


def trade_off(group: list[Outcome]) -> list[dict[str, float]]:
    """While the least score that is accepted moves: what share of the said is missed, how often an hour something else
    is accepted. Of each utterance the best score of a right guess counts; when an utterance ended stays as it was."""
    hours = sum(outcome.seconds for outcome in group if outcome.kind != "said") / 3600
    scores = [max((heard.score for heard in o.heard if heard.right), default=-1.0) for o in group if o.kind == "said"]
    false = [heard.score for o in group if o.kind != "said" for heard in o.heard if heard.reads]
    if not scores or not hours:
        return []
    there = [score for score in [*scores, *false] if score >= 0] or [0.0]
    floors = np.unique(np.quantile(there, np.linspace(0, 1, _CURVE)))
    return [{"floor": round(float(floor), 4), "missed": round(float(np.mean(np.array(scores) < floor)), 4),
             "false_per_hour": round(float(np.sum(np.array(false) >= floor)) / hours, 3)} for floor in floors]


def _words(group: Iterable[Outcome], **names: str) -> dict[str, Any]:
    total = sum((outcome.words for outcome in group), WordErrors())
    return {**names, "words": total.said, "substituted": total.substituted, "dropped": total.dropped,
            "inserted": total.inserted, "rate": round(total.rate, 4)}


def confusions(group: list[Outcome]) -> dict[str, dict[str, int]]:
    """Said, then what it was taken for ("—" for nothing), and how often; the right ones too."""
    found: dict[str, Counter[str]] = {}
    for outcome in group:
        taken = outcome.said if outcome.right else outcome.taken_for
        found.setdefault(outcome.said, Counter())[taken] += 1
    return {text: dict(taken.most_common()) for text, taken in found.items()}
