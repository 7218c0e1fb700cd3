"""Sound that says nothing, for what the recogniser would write anyway."""
from __future__ import annotations

import numpy as np

from companion.edge.ear.base import RATE


def noise_clips() -> list[np.ndarray]:
    """Ten clips of 1.5 s: white, pink and brown noise, steady and swelling, and almost silence; always the same."""
    random = np.random.default_rng(1)
    size, clips = int(1.5 * RATE), [np.full(int(1.5 * RATE), 1e-5, np.float32)]
    steps = np.arange(size // 2 + 1)
    swell = 0.3 + 2 * np.exp(-(((np.arange(size) / RATE - 0.7) / 0.2) ** 2))
    for slope in (0.0, 0.5, 1.0):
        for shape in (1.0, 1.0, swell):
            spectrum = np.fft.rfft(random.standard_normal(size)) / np.maximum(20, steps) ** slope
            clip = np.fft.irfft(spectrum, size)
            clips.append((shape * clip * 0.03 / np.sqrt(np.square(clip).mean())).astype(np.float32))
    return clips
