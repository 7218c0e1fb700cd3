"""Keys held or pressed: any key of any keyboard, and so any pedal or button that calls itself one."""
from __future__ import annotations

from companion.edge.keys.names import KEYS, check_key, writes
from companion.edge.keys.watch import Keys

__all__ = ["KEYS", "Keys", "check_key", "writes"]
