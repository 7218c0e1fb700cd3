"""Input changed by somebody who wants to break the program: it always ends in a result or in a message for a person.

The same in every run; `python tests/fuzz.py` goes on from here, guided by coverage."""
from __future__ import annotations

import pytest
from hypothesis import given, settings

from hostile.all_targets import CASES, TARGETS
from hostile.drawn import changed, same_each_time

COUNTS = {"card": 70, "tools": 200, "trusted": 150, "said": 10, "work": 70, "log": 40, "paper": 8, "review": 150, "sidecar": 200,
          "sound": 200, "key": 200, "name": 50, "receipt": 60}
"""Cases of each kind: what fits into half a second or so."""


@pytest.mark.parametrize("name", TARGETS)
def test_changed_input_ends_in_a_result_or_a_message(name) -> None:
    """Cards, lists, logs (chained and signed anew), sidecars, sound, keys, names, words: no traceback, nothing that steers a
    terminal, no markup in a page, no file outside the folder, nothing run."""
    target = TARGETS[name]

    @settings(same_each_time, max_examples=COUNTS[name])
    @given(changed(target))
    def feed(data: bytes) -> None:
        target.feed(data)
    feed()


@pytest.mark.parametrize("path", sorted(CASES.glob("*.*")), ids=lambda path: path.name)
def test_what_was_found_once_stays_mended(path) -> None:
    """Each finding of the fuzzer, as short as it could be made; its ending names the kind of input."""
    TARGETS[path.suffix[1:]].feed(path.read_bytes())
