"""How wide words run in a terminal."""

WIDTH = 96
"""Characters in a line."""
