"""The arithmetic of the ear's bench: intervals and word errors by other programs, figures from made-up outcomes."""
from __future__ import annotations

import jiwer
import pytest
from hypothesis import given, strategies as st
from scipy import stats

from companion.core.spelling import ICAO
from companion.edge.bench.ear.figures import confusions, false_accepts, figures, right, trade_off, wrong
from companion.edge.bench.ear.goals import judged, row_of
from companion.edge.bench.ear.outcomes import Heard, Outcome, spoken_words
from companion.edge.bench.ear.sets import COMMANDS, phrases_listen
from companion.edge.bench.ear.table import table
from companion.edge.bench.ear.word_errors import WordErrors, word_errors
from companion.errors import BadInput
from companion.trade.intervals import rate_at_most, share_at_most, wilson


@pytest.mark.parametrize("hits, count, low, high", [
    (81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718),
])
def test_the_wilson_interval_is_the_published_one(hits: int, count: int, low: float, high: float) -> None:
    """Newcombe 1998, table of worked examples (recomputed with statsmodels 0.15.0; the print from memory)."""
    assert wilson(hits, count) == pytest.approx((low, high), abs=5e-5)


@given(st.integers(1, 3000), st.data())
def test_the_bound_of_a_share_is_scipys(count: int, data: st.DataObject) -> None:
    """Clopper and Pearson's one-sided bound is a quantile of the beta distribution."""
    hits = data.draw(st.integers(0, min(count, 40)) | st.just(count))
    expected = 1.0 if hits == count else stats.beta.ppf(0.95, hits + 1, count - hits)
    assert share_at_most(hits, count) == pytest.approx(expected, rel=1e-6)


@given(st.integers(0, 300), st.floats(0.01, 1000))
def test_the_bound_of_a_rate_is_scipys(hits: int, hours: float) -> None:
    """The Poisson bound is half a quantile of chi squared."""
    assert rate_at_most(hits, hours) == pytest.approx(stats.chi2.ppf(0.95, 2 * hits + 2) / 2 / hours, rel=1e-6)


def test_the_rule_of_three() -> None:
    """None in 3,000 shows at most 1 in 1,000, none in 30 hours at most 0.1 an hour (from memory)."""
    assert share_at_most(0, 3000) == pytest.approx(1e-3, rel=2e-3)
    assert rate_at_most(0, 30) == pytest.approx(0.1, rel=2e-3)


@pytest.mark.parametrize("bound, hits, of", [
    (wilson, 1, 0), (wilson, -1, 5), (wilson, 6, 5), (share_at_most, 6, 5), (share_at_most, 0, 0),
    (rate_at_most, 0, 0.0), (rate_at_most, -1, 1.0)])
def test_an_impossible_count_is_refused(bound, hits: int, of: float) -> None:
    """Nothing measured gives no interval."""
    with pytest.raises(BadInput):
        bound(hits, of)


def test_word_errors_of_the_textbook_example() -> None:
    """Jurafsky and Martin, Speech and Language Processing: 6 substituted, 3 dropped, 1 inserted of 13 make 76.9 %."""
    found = word_errors("i um the phone is i left the portable phone upstairs last night".split(),
                        "i got it to the fullest i love to portable form of stores last night".split())
    assert (found.said, found.substituted + found.dropped + found.inserted) == (13, 10)
    assert found.rate == pytest.approx(0.769, abs=5e-4)


@given(st.lists(st.sampled_from("abcd"), min_size=1, max_size=9), st.lists(st.sampled_from("abcd"), max_size=9))
def test_word_errors_are_jiwers(said: list[str], heard: list[str]) -> None:
    """The rate, and that what is dropped and inserted adds up to the lengths."""
    found = word_errors(said, heard)
    assert found.rate == pytest.approx(jiwer.wer(" ".join(said), " ".join(heard)))
    assert found.inserted - found.dropped == len(heard) - len(said)


def test_words_out_of_nothing_are_errors() -> None:
    """The rate may exceed 1; counts of several utterances add up."""
    assert word_errors([], ["a", "b"]).rate == 2 and word_errors(["a"], ["b", "c"]).rate == 2
    assert word_errors(["a"], ["b"]) + word_errors(["a", "b"], ["a"]) == WordErrors(1, 1, 0, 3)


def test_words_are_compared_as_they_sound() -> None:
    """Figures, units, marks and American spelling make no error."""
    assert spoken_words("7.5 N·m, Log-value METERS!") == "seven point five newton metres log value metres".split()


# -- figures -----------------------------------------------------------------------------------------------------------

def heard(text: str, score: float = 0.9, right: bool = False, sure: bool = True, records: bool = True) -> Heard:
    """One guess, accepted from 0.5 on."""
    return Heard(text, score, score >= 0.5, sure and score >= 0.5, True, records, right)


def outcome(*guesses: Heard, kind: str = "said", said: str = "next", snr: float | None = 10.0,
            seconds: float = 36.0) -> Outcome:
    """One utterance of the ten commands."""
    name = {"said": "ten commands", "foreign": "chatter"}.get(kind, "noise")
    return Outcome(kind, name, said, "recorded", snr, "wind", "embedded", seconds, guesses, WordErrors(said=1))


NEXT = heard("next", right=True)
SAID = [outcome(NEXT), outcome(heard("yes")), outcome(heard("yes", sure=False)), outcome(heard("yes", 0.2)), outcome(),
        outcome(NEXT, heard("no", sure=False)), outcome(NEXT, NEXT)]


def test_right_and_wrong_exclude_each_other() -> None:
    """Right once is right. Something else, or more than was said, is wrong; unsure, it is asked back."""
    assert [each.right for each in SAID] == [True, False, False, False, False, False, False]
    assert [each.wrong for each in SAID] == [False, True, True, False, False, True, True]
    assert [each.wrong_and_sure for each in SAID] == [False, True, False, False, False, False, True]
    assert right(SAID)["right"] == 1 and right(SAID)["interval"] == pytest.approx(wilson(1, 7), abs=1e-4)
    found = wrong(SAID)
    assert (found["first"], found["sure"]) == (4, 2)
    assert found["sure_at_most"] == pytest.approx(1000 * share_at_most(2, 7), abs=0.01)


def test_false_accepts_are_counted_by_what_they_would_do() -> None:
    """An hour of chatter: those that change the record apart from harmless ones, those not asked back apart again."""
    group = [outcome(heard("next"), heard("repeat", records=False), kind="foreign", seconds=1800),
             outcome(heard("stop", sure=False, records=False), heard("no", 0.3), kind="foreign", seconds=1800)]
    found = false_accepts(group)
    assert found["hours"] == 1 and (found["records"]["accepted"], found["records"]["sure"]) == (1, 1)
    assert (found["harmless"]["accepted"], found["harmless"]["sure"]) == (2, 1)
    assert found["harmless"]["at_most"] == pytest.approx(rate_at_most(2, 1), abs=0.01)


def test_the_trade_off_moves_one_way() -> None:
    """A higher floor misses more and lets less in; the lowest lets in every reading there is."""
    group = [*(outcome(heard("next", score / 20, right=True)) for score in range(20)),
             *(outcome(heard("next", score / 40), kind="noise") for score in range(20))]
    curve = trade_off(group)
    assert curve == sorted(curve, key=lambda point: point["missed"])
    assert curve == sorted(curve, key=lambda point: -point["false_per_hour"])
    assert curve[0]["missed"] == 0 and curve[0]["false_per_hour"] == pytest.approx(20 / 0.2)
    assert trade_off(group[:20]) == []


def test_confusions_name_what_was_said_and_what_it_was_taken_for() -> None:
    """The right ones are on the diagonal; nothing is a dash; several guesses stand together."""
    assert confusions(SAID) == {"next": {"yes": 2, "—": 2, "next": 1, "next + no": 1, "next + next": 1}}


@pytest.mark.parametrize("name, texts, row", [
    ("alphabet", ("alfa",), "alphabet"), ("spelling", tuple(word.lower() for word in ICAO.values()), "alphabet"),
    ("spelling", ("alpha", "juliet", "x-ray", *(word.lower() for word in ICAO.values() if word[0] not in "AJX")),
     "alphabet"),
    ("spelling", ("alpha", "bravo"), ""), ("words", COMMANDS, "ten commands"),
    ("any", ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"), "digits")])
def test_a_set_is_judged_by_what_is_live(name: str, texts: tuple[str, ...], row: str) -> None:
    """By its name, or by its phrases; a set that is neither has no goal."""
    assert row_of(name, phrases_listen(texts)) == row


def test_goals_are_judged() -> None:
    """Each goal with a figure: the share from below, rates and times from above; and the table says which is missed."""
    four_hours = {"kind": "noise", "said": "", "seconds": 3600.0 * 4}
    noise = [outcome(**four_hours), outcome(heard("no"), **four_hours)]
    timing = {"embedded": {"count": 3, "decision_ms": {"median": 90.0, "p95": 251.0, "p99": 300.0},
                           "silence_ms": {"median": 1.0, "p95": 2.0, "p99": 3.0}, "real_time": 0.1, "memory_mb": None}}
    found = {**figures(SAID + noise), "timing": timing}
    goals = judged(found, "embedded", {"ten commands": "ten commands"})
    assert [(goal.found, goal.reached) for goal in goals] == [
        (0.1429, False), (pytest.approx(285.71), False), (0.12, False), (0.0, True), (251.0, False)]
    lines = table({**found, "ears": ["embedded"], "judged": "embedded", "conditions": ["10 dB"],
                   "goals": [{**vars(goal), "reached": goal.reached} for goal in goals]})
    assert sum(line.startswith("NOT reached") for line in lines) == 4
    assert "ten commands, taken for: next → yes 2; next → next + no 1; next → next + next 1" in lines
