"""The standing commands: what can be said at almost any moment, in the trade's words or plain English.

"affirm", "negative", "say again", "correction" and "decimal" are standard radiotelephony words (ICAO Annex 10, Vol. II,
5.2, from memory); plain English stands beside them. "affirm" and "negative" are live only where they were asked for.
"""
from __future__ import annotations

from companion.core.grammar import Choice, Free, Listen, Maybe, Number, Phrase, Reading, Rule, Sequence, Spelling, Unit
from companion.trade.units import UNITS

ALL_UNITS = Unit(tuple(UNITS))


_UNIT_MS = {"min": 60_000, "s": 1_000, "h": 3_600_000}


def span_ms(reading: Reading) -> int:
    """The milliseconds of a rule that ends in a number and min, s or h."""
    return int(reading.get("number") or 0) * _UNIT_MS[reading.get("unit")]


def _one_of(*texts: str) -> Choice | Phrase:
    return Phrase(texts[0]) if len(texts) == 1 else Choice(tuple(Phrase(text) for text in texts))


_DURATION = Sequence((Number("number", signed=False, decimals=0, most=600), Unit(("min", "s", "h"))))
_A_VALUE = Sequence((Number(), Maybe(ALL_UNITS)))


def _rule(name: str, *texts: str, records: bool = False, shown: str | None = None) -> Rule:
    return Rule(name, _one_of(*texts), records, texts[0] if shown is None else shown)


RULES: dict[str, Rule] = {rule.name: rule for rule in (
    _rule("next", "next", "done", records=True),
    _rule("repeat", "repeat", "say again"),
    _rule("previous", "previous step", records=True),
    _rule("affirm", "affirm", "yes", records=True),
    _rule("negative", "negative", "no", records=True),
    Rule("value", Sequence((Phrase("log value"), _A_VALUE)), True, "log value, and the value"),
    Rule("correction", Sequence((Phrase("correction"), Maybe(_A_VALUE))), True, "correction, and the right value"),
    Rule("correct_place", Sequence((Phrase("correction place"), Number("place", signed=False, decimals=0, most=17),
                                    Spelling(1, 1))), True, "correction, place, and the right character"),
    _rule("pause", "pause"),
    _rule("resume", "resume"),
    _rule("how_long", "how long", "time left"),
    _rule("options", "options", "what can I say"),
    _rule("detail", "detail", "more detail"),
    _rule("where", "where was I"),
    _rule("what_torque", "what torque"),
    _rule("what_limit", "what limit"),
    _rule("what_read", "what did I read"),
    _rule("which_cylinder", "which cylinder"),
    Rule("timer", Sequence((Phrase("timer"), _DURATION)), False, "timer, and the minutes"),
    _rule("cancel_timer", "cancel timer"),
    _rule("leave_open", "leave open", records=True),
    _rule("leave_out", "leave out", records=True),
    _rule("end_wait", "end the wait", records=True),
    _rule("brief", "brief words"),
    _rule("full", "full words"),
    _rule("slower", "slower", shown="slower, or faster"),
    _rule("faster", "faster", shown=""),
    _rule("louder", "louder", shown="louder, or quieter"),
    _rule("quieter", "quieter", shown=""),
    _rule("memo", "memo"),
    _rule("stop", "stop"),
    _rule("stop_job", "stop job", records=True),
    _rule("okay", "I am okay", records=True),
    _rule("alarm_over", "alarm over", records=True),
    Rule("check_every", Sequence((Phrase("check on me every"), _DURATION)), True, "check on me every, and the minutes"),
    _rule("emergency", "emergency"),
    _rule("emergency_over", "emergency over", records=True),
    _rule("no_more", "no more codes", "no codes", records=True),
    _rule("that_is_all", "that is all", records=True),
    _rule("same_mechanic", "same mechanic", records=True),
    _rule("taking_over", "taking over", records=True),
)}

#: Reasons that may always be given; a card adds its own.
REASONS = ("already done", "part missing", "tool missing", "cannot reach it", "reading checked twice",
           "the maker allows it", "customer decided", "other reason")


def phrases(rule: Rule) -> tuple[str, ...]:
    """The fixed words that open a rule: ("next", "done"), ("log value",) …"""
    expr = rule.expr.parts[0] if isinstance(rule.expr, Sequence) else rule.expr
    options = expr.options if isinstance(expr, Choice) else (expr,)
    return tuple(option.text for option in options if isinstance(option, Phrase))


#: Every standing phrase, for the check that nothing on a card sounds like one of them.
STANDING: tuple[str, ...] = tuple(text for rule in RULES.values() for text in phrases(rule))


def all_commands() -> Listen:
    """Every command at once, as a bench listens for them."""
    return Listen(tuple(RULES.values()))


def reason_rule(reasons: tuple[str, ...], any_words: bool = True) -> Rule:
    """A reason: one of the card's or the usual ones; with `any_words` a typed line may say "because …" in any words."""
    listed = tuple(Phrase(text) for text in dict.fromkeys(reasons + REASONS))
    if not any_words:
        return Rule("reason", Choice(listed, "reason"), True, "a reason")
    typed = Sequence((Phrase("because"), Free("reason")))
    return Rule("reason", Choice((Choice(listed, "reason"), typed)), True, "a reason")
