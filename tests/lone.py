"""One real lone mechanic who falls silent: the real program between two null sinks, its alarm, and a contact that is called.

    python tests/lone.py [--snr DECIBELS] [--json FILE]

Not a test of the default run: it takes about six minutes, as long as the check and its alarm do. A synthetic mechanic
speaks once, says nothing for two minutes, lets the alarm rise and help be called, and then ends it in two parts by voice,
beside an idling engine. A web server of this machine stands for the contact's phone. Exit code 1 where a goal is missed.
"""
from __future__ import annotations

import argparse
import json
import sys
import tempfile
import threading
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from queue import Empty, Queue

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from workshop import Workshop, engine  # noqa: E402

ARE_YOU = "Are you okay"


def run(snr_db: float) -> dict[str, object]:
    """What came of it, in seconds of the carried sound."""
    with tempfile.TemporaryDirectory() as place, _phone() as phone:
        home, log = Path(place, "home"), Path(place, "lone.jsonl")
        home.mkdir()
        (home / "contacts").write_text(f"json://127.0.0.1:{phone.port}\n", encoding="utf-8")
        with Workshop(home, echo_db=-20, noise=engine(), snr_db=snr_db) as workshop:
            job = workshop.start("job", "learning", "--log", str(log), "--check-every", "2 min", "--place", "lay-by, invented",
                                 "--mechanic", "AB")
            found: dict[str, object] = {"snr_db": snr_db}
            _tested(workshop, job)
            found["test_message"] = phone.message(30)
            began = workshop.say("next").end
            found["check_after_s"] = _after(job, "Checking on you", began, 150)
            at = began
            for level in (1, 2, 3):
                at = job.wait_for(ARE_YOU, at + 1, 120).second
                found[f"alarm_{level}_after_s"] = round(at - began, 1)
                workshop.air.wait(lambda: workshop.air.now > at + 5, 20)
                found[f"alarm_{level}_db"] = _level(workshop.air.played(at - 0.5, at + 4.5))
            found["help_said_after_s"] = _after(job, "Help is being called", began, 60)
            found["message"] = phone.message(30)
            _end_it(workshop, job, found)
            found["all_clear"] = phone.message(30)
            _leave(workshop, job)
            print(job.printed, file=sys.stderr)
        lines = [json.loads(line) for line in log.read_text("utf-8").splitlines()]
        found["alarm_test"] = next(line["data"] for line in lines if line["event"] == "alarm_sounded")
        found["events"] = [line["event"] for line in lines if line["event"] in _SHOWN]
        from companion.__main__ import main
        found["verified"] = main(["verify", str(log)]) == 0
    return found


_SHOWN = ("lone_work_agreed", "alarm_sounded", "alarm_test_answered", "checked_on", "alarm_raised", "help_called", "message_sent", "alarm_ended")


def missed(found: dict[str, object]) -> list[str]:
    """The goals that were not reached, in words."""
    levels = [found[f"alarm_{level}_db"] for level in (1, 2, 3)]
    goals = {
        "the check comes a minute after the last word, within 5 s": 55 <= found["check_after_s"] <= 65,  # type: ignore[operator]
        "the alarm rises by 3 dB or more each time": levels[1] >= levels[0] + 3 and levels[2] >= levels[1] + 3,  # type: ignore
        "the contact gets a test with the day's test of the alarm": "tests the alarm" in str(found["test_message"]),
        "the contact gets who and where": "AB does not answer" in str(found["message"]) and "lay-by" in str(found["message"]),
        "the contact gets the all-clear": "all is clear" in str(found["all_clear"]),
        "it is ended by voice in two parts": found["ended_after_tries"] is not None,
        "the log holds": bool(found["verified"]),
    }
    return [goal for goal, reached in goals.items() if not reached]


def _tested(workshop: Workshop, job) -> None:
    """The room, and the day's test of the alarm."""
    workshop.hear_out(job, "Now say: one, two", seconds=40)
    workshop.say("one, two, three, four")
    job.wait_for("Did you hear the alarm", seconds=60)
    workshop.hear_out(job, "Did you hear the alarm")
    for _ in range(4):
        said = workshop.say("yes")
        if job.printed_within("Unroll the tools", said.begin, 5):
            break
    workshop.hear_out(job, "Unroll the tools", said.begin)


def _after(job, words: str, began: float, seconds: float) -> float:
    return round(job.wait_for(words, began, seconds).second - began, 1)


def _level(sound: np.ndarray) -> float:
    """The loudest tenth of a second, dBFS."""
    blocks = np.square(sound[:len(sound) // 4800 * 4800].reshape(-1, 4800)).mean(1)
    return round(float(10 * np.log10(blocks.max() + 1e-12)), 1)


def _end_it(workshop: Workshop, job, found: dict[str, object]) -> None:
    """In the gaps of the alarm, as somebody would; a try is both parts."""
    found["ended_after_tries"] = None
    for attempt in range(1, 6):
        said = workshop.say("I am okay")
        if not job.printed_within("To end the alarm", said.begin, 6):
            continue
        workshop.hear_out(job, "To end the alarm", said.begin)
        said = workshop.say("alarm over")
        if job.printed_within("The alarm is over", said.begin, 6):
            found["ended_after_tries"] = attempt
            return


def _leave(workshop: Workshop, job) -> None:
    for _ in range(4):
        workshop.air.wait(lambda: False, 6)
        said = workshop.say("stop job")
        if job.printed_within("Leave the job", said.begin, 6):
            workshop.hear_out(job, "Leave the job", said.begin)
            said = workshop.say("affirm")
            if job.printed_within("The job is left", said.begin, 8):
                job.ended(30)
                return


class _Phone:
    """A contact's phone: a web server of this machine."""

    def __init__(self) -> None:
        self._got: Queue = Queue()
        got = self._got

        class Takes(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                got.put(json.loads(self.rfile.read(int(self.headers["Content-Length"]))))
                self.send_response(200)
                self.end_headers()

            def log_message(self, *args: object) -> None:
                """Nothing on the terminal."""
        self._server = HTTPServer(("127.0.0.1", 0), Takes)
        self.port = self._server.server_port

    def __enter__(self) -> _Phone:
        threading.Thread(target=self._server.serve_forever, daemon=True).start()
        return self

    def __exit__(self, *_: object) -> None:
        self._server.shutdown()
        self._server.server_close()

    def message(self, seconds: float) -> str:
        """The next one; "" where none comes."""
        try:
            return self._got.get(timeout=seconds)["message"]
        except Empty:
            return ""


_phone = _Phone


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--snr", type=float, default=10.0, help="the engine below the mechanic, dB")
    parser.add_argument("--json", type=Path)
    args = parser.parse_args()
    outcome = run(args.snr)
    goals = missed(outcome)
    print(json.dumps({**outcome, "missed": goals}, indent=1))
    if args.json:
        args.json.write_text(json.dumps(outcome, indent=1), encoding="utf-8")
    sys.exit(1 if goals else 0)
