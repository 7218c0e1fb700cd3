"""The office's own log, FOLDER/office/review.jsonl: only ever appended, every line chained and signed.

`facts` is what may be said, `lines` the bytes, `reviewed` what they say as a whole, `register` how cards stand, `file`
the disk, `seen` what this machine remembers of it, `taking` what may be added."""
from __future__ import annotations

from companion.office.review_log.facts import (
    CardApproved, CardWithdrawn, DoubtAnswered, Fact, FindingAnswered, HoldSignedOff, JobSignedOff, PersonalErased, tidy)
from companion.office.review_log.file import append, read_review, review_path
from companion.office.review_log.lines import Signed, review_bytes
from companion.office.review_log.register import standing
from companion.office.review_log.reviewed import CardMark, Reviewed, reviewed

__all__ = ["CardApproved", "CardMark", "CardWithdrawn", "DoubtAnswered", "Fact", "FindingAnswered", "HoldSignedOff",
           "JobSignedOff", "PersonalErased", "Reviewed", "Signed", "append", "read_review", "review_bytes", "review_path",
           "reviewed", "standing", "tidy"]
