"""The model of a shop, its file, and the catalogue of generic equipment."""
