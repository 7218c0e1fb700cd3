"""The papers of a job as pages: its record, the customer's sheet, the claim sheet."""
from __future__ import annotations

import html
import re
from typing import Callable

from companion.office.account import Account
from companion.office.page.guard import POLICY
from companion.office.record.gather import record_of
from companion.office.record.page import record_paper
from companion.office.record.paper.blocks import Paper
from companion.office.record.paper.html import as_html
from companion.office.record.rows import Row
from companion.office.record.sheets.claim import claim_sheet
from companion.office.record.sheets.customer import customer_sheet
from companion.office.record.sheets.told import Told
from companion.office.review_log import Reviewed

PAPERS: dict[str, tuple[str, Callable[[Account, Row], Paper]]] = {
    "record": ("The whole record", lambda account, data: record_paper(data)),
    "customer": ("The customer's sheet", lambda account, data: customer_sheet(Told(account, data))),
    "claim": ("The claim sheet", lambda account, data: claim_sheet(Told(account, data)))}
"""The last part of a paper's address to what it is called and how it is made."""


def paper(name: str, account: Account, office: Reviewed) -> tuple[bytes, str]:
    """A paper as a page, and the policy it is served under: the paper's own, which knows its style, and no frames."""
    page = as_html(PAPERS[name][1](account, record_of(account, office)))
    found = re.search('http-equiv="Content-Security-Policy" content="([^"]*)"', page)
    policy = f"{html.unescape(found[1])}; frame-ancestors 'none'" if found else POLICY
    return page.encode("utf-8", "replace"), policy
