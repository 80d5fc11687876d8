"""Decide what stands where in a small woodworking shop, and prove that it works."""
