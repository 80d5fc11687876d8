"""The only room that draws: plans, overlays and sheets."""
