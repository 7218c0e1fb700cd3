"""Every target by its name, and where a finding lies."""
from __future__ import annotations

import traceback
from pathlib import Path

import hostile.files
import hostile.logs
import hostile.receipts
import hostile.texts
from hostile import Target
from hostile.bounds import PROJECT

TARGETS: dict[str, Target] = {target.name: target for part in (hostile.texts, hostile.logs, hostile.files, hostile.receipts)
                              for target in part.TARGETS}
CASES = Path(__file__).parent.parent / "cases" / "hostile"


def place_of(error: BaseException) -> str:
    """Kind of the error, and the innermost line of this project that it came through: one finding has one place."""
    frames = traceback.extract_tb(error.__traceback__)
    own = [frame for frame in frames if frame.filename.startswith(str(PROJECT / "companion"))] or frames[-1:]
    what = str(error)[:60] if isinstance(error, AssertionError) else ""
    return f"{type(error).__name__} at {Path(own[-1].filename).name}:{own[-1].lineno} {what}" if own else repr(error)[:200]
