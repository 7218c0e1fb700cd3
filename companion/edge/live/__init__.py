"""A live job: real microphone, real loudspeaker, real time."""
from __future__ import annotations

from companion.edge.live.listeners import FileListener, MicrophoneListener
from companion.edge.live.session import Live

__all__ = ["FileListener", "Live", "MicrophoneListener"]
