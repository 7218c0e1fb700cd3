"""The one place where an answer leaves: printed, as one JSON object, and spoken."""
from __future__ import annotations

import json
import sys
from collections.abc import Mapping
from contextlib import closing
from datetime import date
from decimal import Decimal
from typing import Any

from companion.edge.work.answer import Answer, digits
from companion.errors import BrokenMachine
from companion.terminal import clean


def show(answer: Answer, as_json: bool, aloud: bool) -> None:
    """Print the answer, and then speak it if wanted. No loudspeaker is told on the error stream and is no failure."""
    if hasattr(sys.stdout, "reconfigure"):
        sys.stdout.reconfigure(errors="replace")  # an old terminal has no θ, and a name may hold anything
    if as_json:
        print(json.dumps(_plain({"answer": answer.answer, "unit": answer.unit, "formula": answer.formula,
                                 "source": answer.source, **answer.extras}), ensure_ascii=False))
    else:
        print(*answer.text, f"  formula: {answer.formula}", f"  source: {answer.source}", sep="\n")
    sys.stdout.flush()
    if aloud:
        _say(answer.words)


def _say(words: str) -> None:
    try:
        # The sound is only loaded where it is used.
        from companion.edge.player import Player
        from companion.edge.sound import SpeakerSink
        from companion.edge.voice import load_voice
        sink = SpeakerSink()
        with closing(Player(load_voice(), sink)) as player:
            player.say_now(words)
    except BrokenMachine as error:
        print(f"companion: cannot say it: {clean(error.where)}: {clean(error.must)}", file=sys.stderr)


def _plain(value: Any) -> Any:
    """Only what JSON knows; decimals as text, so that no reader rounds them."""
    if isinstance(value, Decimal):
        return digits(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Mapping):
        return {str(key): _plain(each) for key, each in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(each) for each in value]
    return value
