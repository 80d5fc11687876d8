"""Results as text, JSON and pages."""
