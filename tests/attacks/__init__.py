"""Long attacks, run by hand: see `tests/attack.py`."""
