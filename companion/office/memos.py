"""The sound files of a job's memos and clips: whether each lies beside the log as it was recorded."""
from __future__ import annotations

import hashlib
import re
from functools import partial
from typing import Any

from companion.core.log.evidence import Memo
from companion.core.log.journal import is_memo_name
from companion.office.place import Place

AS_RECORDED, MISSING, WRONG = "as recorded", "missing", "wrong"


def memo_found(place: Place, memo: Memo) -> dict[str, Any]:
    """What is found of one memo, as `verify --json` prints it; `state` is one of the above, `why` says what must hold.

    A missing file is no fault: it may be erased, as personal texts may. Raises OSError where one cannot be read.
    """
    if not is_memo_name(memo.file):
        return {"line": memo.line, "file": "", "state": WRONG, "why": "must name a memo's sound file beside the log"}
    what, state, why = "clip" if is_clip(memo.file) else "memo", AS_RECORDED, ""
    if not place.has(memo.file):
        state, why = MISSING, f"the {what} {memo.file} is erased or kept elsewhere"
    elif _sha256(place, memo.file) != memo.sha256:
        state, why = WRONG, f"the {what} {memo.file} must be as it was recorded, and is not"
    return {"line": memo.line, "file": memo.file, "state": state, "why": why}


def is_clip(file: str) -> bool:
    """Whether a name that can be one of these is that of a clip, not of a memo."""
    return bool(re.search(r"\.clip-[0-9]+\.[a-z]+$", file))


def _sha256(place: Place, name: str) -> str:
    found = hashlib.sha256()
    with place.open(name) as file:
        for piece in iter(partial(file.read, 2**20), b""):
            found.update(piece)
    return found.hexdigest()
