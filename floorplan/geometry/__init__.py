"""Polygons, heights and numbers with errors; knows nothing of shops."""
