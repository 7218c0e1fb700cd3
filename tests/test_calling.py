"""Who is told when a lone mechanic does not answer: contacts, messages over a real socket, the day's test of the alarm."""
from __future__ import annotations

import argparse
import json
import threading
from datetime import date, datetime
from http.server import BaseHTTPRequestHandler, HTTPServer
from queue import Queue

import numpy as np
import pytest

from companion.core.job.effects import Message, Say
from companion.core.job.inputs import MessageDone
from companion.edge.alone import alarm, options
from companion.edge.alone.calling import CallingMouth, Calls, read_contacts
from companion.edge.ear.base import RATE
from companion.edge.job import _sent_on
from companion.edge.tones import tone
from companion.errors import BadInput, BrokenMachine


# -- contacts ----------------------------------------------------------------------------------------------------------

@pytest.fixture
def receiver():
    """A web server that keeps what is posted to it."""
    got: Queue = Queue()

    class Takes(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            got.put(json.loads(self.rfile.read(int(self.headers["Content-Length"]))))
            self.send_response(200)
            self.end_headers()

        def log_message(self, *args: object) -> None:
            """Nothing on the terminal."""

    server = HTTPServer(("127.0.0.1", 0), Takes)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield server.server_port, got
    server.shutdown()
    server.server_close()


def test_a_message_reaches_a_contact_over_a_real_socket(receiver, tmp_path):
    """The whole way: a file of contacts, apprise, HTTP; and what became of it comes back."""
    port, got = receiver
    file = tmp_path / "contacts"
    file.write_text(f"# the depot's desk, invented\njson://127.0.0.1:{port}\n\n", encoding="utf-8")
    done: Queue = Queue()
    calls = Calls(read_contacts(file), done.put)
    calls.send(Message("help", "AB does not answer. Place: lay-by, invented."))
    assert done.get(timeout=20) == MessageDone("help", True)
    assert "AB does not answer" in got.get(timeout=20)["message"]
    assert calls.close()


@pytest.mark.parametrize("text, words", [
    ("nonsense\n", "must be an address that apprise knows"),
    ("# none\njson://127.0.0.1\nsecret://:pass@word\n", ":3: must be an address"),
])
def test_a_bad_contact_is_named_by_its_line_and_not_shown(tmp_path, text, words):
    """An address may hold a password."""
    file = tmp_path / "contacts"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(BadInput) as found:
        read_contacts(file)
    assert words in str(found.value) and "pass@word" not in str(found.value) and "nonsense" not in str(found.value)


def test_contacts_that_cannot_be_read_are_said(tmp_path):
    with pytest.raises(BadInput, match="must be a text file of contacts"):
        read_contacts(tmp_path / "missing")


class Carrier:
    """Takes a message on the nth attempt."""

    def __init__(self, on: int) -> None:
        self.on, self.texts = on, []

    def send(self, text: str) -> bool:
        self.texts.append(text)
        return len(self.texts) >= self.on


def sent(calls: Calls, done: Queue, count: int) -> list[MessageDone]:
    return [done.get(timeout=20) for _ in range(count)]


def test_what_cannot_be_sent_is_told_once_tried_again_and_told_when_it_is_sent():
    """Whoever got it already does not get it again."""
    good, slow, done = Carrier(1), Carrier(4), Queue()
    calls = Calls((good, slow), done.put, again_s=(0,))
    calls.send(Message("help", "text"))
    assert sent(calls, done, 2) == [MessageDone("help", False, "1 of 2 could not be reached", 1), MessageDone("help", True)]
    assert (len(good.texts), len(slow.texts)) == (1, 4) and calls.close()


def test_messages_other_than_for_help_are_given_up_after_three_attempts():
    """What could be late by hours would only mislead."""
    dead, done = Carrier(99), Queue()
    calls = Calls((dead,), done.put, again_s=(0,))
    calls.send(Message("test", "text"))
    assert calls.close(20) and len(dead.texts) == 3 and done.qsize() == 1


@pytest.mark.parametrize("kind", ["all clear", "call by"])
def test_a_call_for_help_waits_behind_no_message_that_one_contact_does_not_take(kind):
    """A contact that can be reached hears of it though another cannot."""
    good, dead, done = Carrier(1), Carrier(99), Queue()
    calls = Calls((good, dead), done.put, again_s=(600,))
    calls.send(Message(kind, kind))
    assert done.get(timeout=20) == MessageDone(kind, False, "1 of 2 could not be reached", 1)
    calls.send(Message("help", "help"))
    assert done.get(timeout=20).kind == "help" and good.texts == [kind, "help"]
    assert not calls.close(0)


def test_what_is_still_to_be_sent_is_waited_for_even_where_the_job_fails(capsys):
    """A call for help is not lost with the program."""
    class Never:
        def close(self) -> bool:
            return False
    with pytest.raises(BrokenMachine), _sent_on(Never()):  # type: ignore[arg-type]
        raise BrokenMachine("disk", "failed")
    assert "could not be sent. Tell them yourself" in capsys.readouterr().err


def test_an_all_clear_takes_the_place_of_a_call_that_could_not_be_sent():
    """Nobody is to be sent out for somebody who is well."""
    done: Queue = Queue()

    class Late:
        texts: list[str] = []

        def send(self, text: str) -> bool:
            self.texts.append(text)
            return text == "clear"
    calls = Calls((Late(),), done.put, again_s=(600,))
    calls.send(Message("help", "help"))
    assert not done.get(timeout=20).sent
    calls.send(Message("all clear", "clear"))
    assert done.get(timeout=20) == MessageDone("all clear", True) and calls.close() and Late.texts == ["help", "clear"]


def test_a_mouth_sends_messages_and_says_the_rest():
    class Mouth:
        said: list[object] = []

        def carry_out(self, effect: object) -> None:
            self.said.append(effect)
    carrier, done = Carrier(1), Queue()
    calls = Calls((carrier,), done.put)
    mouth = CallingMouth(Mouth(), calls)  # type: ignore[arg-type]
    mouth.carry_out(Say("Going on."))
    mouth.carry_out(Message("test", "text"))
    assert done.get(timeout=20).sent and Mouth.said == [Say("Going on.")] and carrier.texts == ["text"] and calls.close()


# -- terms -------------------------------------------------------------------------------------------------------------

def terms(**given: str):
    parser = argparse.ArgumentParser()
    options.add_arguments(parser)
    args = parser.parse_args([])
    vars(args).update(given)
    return options.terms_of(args, 1, NOW)


NOW = datetime(2026, 3, 2, 14, 0).astimezone()
"""Local time, wherever the test runs."""


@pytest.mark.parametrize("by, said, at", [
    ("16:40", "sixteen forty", datetime(2026, 3, 2, 16, 40)), ("16:05", "sixteen oh five", datetime(2026, 3, 2, 16, 5)),
    ("16:00", "sixteen hundred", datetime(2026, 3, 2, 16)), ("05:30", "five thirty", datetime(2026, 3, 3, 5, 30))])
def test_a_call_by_time_is_the_next_one_and_is_said_as_people_say_it(by, said, at):
    made = terms(call_by=by)
    assert made.call_by_said == said and made.call_by_ms == round(at.astimezone().timestamp() * 1000)


@pytest.mark.parametrize("given, words", [
    ({"check_every": "often"}, "must be a time from 2 min to 4 h"), ({"check_every": "10 s"}, "must be a time from 2 min"),
    ({"check_every": "0 min"}, "must be a time from 2 min"),
    ({"call_by": "25:00"}, "must be a time of day such as 16:40"),
    ({"call_by": "13:59"}, "within 16 hours from now, not 13:59. If it has passed today, give a later one"),
    ({"call_by": "noon"}, "must be a time of day")])
def test_terms_that_cannot_hold_are_refused(given, words):
    with pytest.raises(BadInput, match=words):
        terms(**given)


def test_contacts_are_refused_in_simulated_time(tmp_path):
    """Whoever names contacts there is not left to believe that they are told."""
    with pytest.raises(BadInput, match="in simulated time nobody is called"):
        options.contacts_of(argparse.Namespace(contacts=tmp_path / "contacts"), simulated=True)


def test_an_interval_is_read():
    assert terms(check_every="15 min", place="lay-by").every_ms == 900_000


# -- the day's test ----------------------------------------------------------------------------------------------------

def noise(db: float, seconds: float) -> np.ndarray:
    return (np.random.default_rng(3).standard_normal(int(seconds * RATE)) * 10 ** (db / 20)).astype(np.float32)


@pytest.mark.parametrize("noise_db, reach_db, verdict", [
    (-60, -20, "clear"), (-30, -18, "weak"), (-30, -80, "not measured"), (-30, -200, "not measured")])
def test_the_alarm_is_held_against_the_noise(noise_db, reach_db, verdict):
    """15 dB(A) above it is clearly audible (ISO 7731, from memory); what does not reach the microphone is not judged."""
    ring = tone("alarm 3", RATE) * np.float32(10 ** (reach_db / 20))
    loud = noise(noise_db, alarm.SOUNDING_S)
    loud[8000:8000 + len(ring)] += ring
    heard = alarm.judged(noise(noise_db, 1.0), loud)
    assert heard.verdict == verdict, heard


def test_the_level_above_the_noise_is_measured_right():
    """A sine of 1397 and one of 698 Hz by turns, at known levels: within 1.5 dB of what the A-weighting makes of them."""
    ring = tone("alarm 3", RATE)
    heard = alarm.judged(noise(-50, 1.0), np.concatenate([noise(-50, 0.5), ring + noise(-50, len(ring) / RATE)]))
    power = 10 * np.log10(np.square(ring).mean())  # the weighting is +0.5 and −1.9 dB there, white noise loses about 2 dB
    assert abs(float(heard.ratio_db) - (power + 50 + 1.0)) < 2.5


def test_it_is_tested_once_a_day(tmp_path):
    today, tomorrow = date(2026, 3, 2), date(2026, 3, 3)
    assert alarm.due(tmp_path, today)
    alarm.note(tmp_path, today)
    assert not alarm.due(tmp_path, today) and alarm.due(tmp_path, tomorrow)
