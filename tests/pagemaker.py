"""A folder of invented jobs, with a planted wrong cylinder among them, and the supervisor's page over it."""
from __future__ import annotations

import re
from hashlib import sha256
from html import unescape
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from companion.core.job.inputs import MemoTaken
from companion.office.page.desk import Desk
from companion.office.page.site import site
from companion.office.review_log import read_review
from logmaker import KEY
from officemaker import session, worked, write_log
from simulator import Simulator

PORT = 8765
HOST = f"127.0.0.1:{PORT}"
CARD = (Path(__file__).parent / "cases" / "job" / "hold-points.yaml").read_text(encoding="utf-8")
SOUND = b"the sound of a memo" * 100
DAY_MS = 86_400_000
NOW = "2023-12-24T12:00:00.000Z"
"""The page's clock in these tests; the jobs begin in the weeks before."""


def fill(folder: Path) -> Path:
    """Six jobs, a day after the other: whole ones, one on the wrong cylinder, one without an end, one with hold points,
    one changed."""
    for day, name in enumerate(("learning", "road-wheels", "injector-wrong-cylinder")):
        write_log(folder, {"injector-wrong-cylinder": "van-17"}.get(name, name), session(name), day * DAY_MS)
    write_log(folder, "unfinished", worked("learning", ["next"]), 3 * DAY_MS)
    write_log(folder, "held", held(), 4 * DAY_MS)
    changed = write_log(folder, "changed", session("learning-voice-set"), 5 * DAY_MS)
    lines = changed.read_bytes().splitlines(keepends=True)
    lines[12] = lines[12].replace(b"}", b" }", 1)
    changed.write_bytes(b"".join(lines))
    return folder


def held() -> Simulator:
    """A job past the first of its hold points, with a memo."""
    job = Simulator(CARD, ear="test ear")
    job.say("next", "hands are clear", "golf hotel", "affirm", "next", "memo")
    job.take(MemoTaken(1, "held.memo-1.flac", sha256(SOUND).hexdigest(), 9_000, "an invented <b>note</b>"))
    return job


def looked_at(folder: Path) -> Desk:
    """The desk over a folder, after a look at it."""
    desk = Desk(folder, KEY, lambda: NOW)
    desk.look()
    return desk


class Reader:
    """Somebody who reads the page in a browser of this machine, without a browser."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.client = site(desk, PORT).test_client()

    def get(self, address: str, **headers: str) -> Any:
        """What is answered."""
        return self.client.get(address, headers={"Host": HOST, **headers})

    def page(self, address: str) -> str:
        """A page that is there."""
        found = self.get(address)
        assert found.status_code == 200, (address, found.status, found.text[-400:])
        return found.text

    def logs(self, **query: str) -> list[str]:
        """The jobs of a list, by name."""
        return re.findall('<th scope="row" role="rowheader"><a href="/job/([^"]*?)[.]jsonl(?:[?]from=[^"]*)?">',
                          self.page(f"/jobs?{urlencode(query)}"))

    def send(self, address: str, page: str, about: str = "", **typed: str) -> Any:
        """What is answered to the form on `page` that goes to `address` and has `about` in it, with what was typed."""
        form = next(one for one in re.findall("<form.*?</form>", self.page(page), re.DOTALL)
                    if f'action="{address}"' in one and about in one)
        hidden = re.findall('<input type="hidden" name="([^"]*)"(?: value="([^"]*)")?>', form)
        return self.client.post(address, data={**{name: unescape(value) for name, value in hidden}, **typed},
                                headers={"Host": HOST, "Origin": f"http://{HOST}"})

    def review(self) -> list[Any]:
        """What stands in the office's log, every line checked."""
        found = read_review(self.desk.folder)
        assert not found.broken and not found.torn
        return [entry.fact for entry in found.entries]
