"""How long each part of a check and of its alarm takes. Common practice, no source: no standard gives these minutes."""

RING_MS = 20_000
"""From one level of the alarm to the next, and to calling help."""
RING_AGAIN_MS = 60_000
"""From then on."""
SPOKEN_MS = 30_000
"""For what is still being said when a check falls due, and for its own words."""
CALL_NEAR_MS = 10 * 60_000
"""So long before a contact calls it is said."""
WITHIN_MS = 60_000
"""For the answer to a check, where no card says it."""
LEAST_MS, MOST_MS = 2 * 60_000, 4 * 3_600_000
"""Of an interval that is agreed by voice."""
