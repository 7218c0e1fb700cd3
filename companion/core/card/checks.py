"""Every check of meaning, in one place."""
from __future__ import annotations

from itertools import chain, islice

from companion.core.card.acts import act_faults
from companion.core.card.alone import alone_faults
from companion.core.card.build import build
from companion.core.card.flow import flow_faults
from companion.core.card.limits import limit_faults, size_faults
from companion.core.card.names import name_faults
from companion.core.card.phrases import phrase_faults
from companion.core.card.refs import reference_faults
from companion.core.card.sheet import Sheet
from companion.core.card.text import Fault
from companion.core.card.words import word_faults
from companion.core.card.working import working_faults


_MOST_FAULTS = 500


def meaning_faults(sheet: Sheet) -> list[Fault]:
    """What does not hold on a card whose form could be read. A card too large to unfold is checked as written only."""
    too_large = list(size_faults(sheet))
    written = chain(reference_faults(sheet), act_faults(sheet), limit_faults(sheet), phrase_faults(sheet),
                    word_faults(sheet))
    if too_large:
        return [*too_large, *islice(written, _MOST_FAULTS)]
    card = build(sheet)
    return list(islice(chain(written, flow_faults(sheet, card), name_faults(sheet, card),
                             working_faults(sheet, card), alone_faults(sheet, card)), _MOST_FAULTS))
