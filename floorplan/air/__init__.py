"""Dust-collection physics: numbers in, numbers out; knows nothing of shops."""
