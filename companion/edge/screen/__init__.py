"""The screen of a live job: the step in letters to be read at two metres, clocks, what was heard and can be said."""
from companion.edge.screen.display import Lines, Screen, screen_for

__all__ = ["Lines", "Screen", "screen_for"]
