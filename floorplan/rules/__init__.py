"""Every yardstick and constant with its source, as data."""
