"""Bodies that move among solids: carrying, walking, free regions; knows nothing of shops."""
