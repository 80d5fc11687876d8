"""Placing, ranking and the answers that need a search."""
