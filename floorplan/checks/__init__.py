"""One question a file: shop and layout in, findings and measures out."""
