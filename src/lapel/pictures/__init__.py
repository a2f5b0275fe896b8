"""The charts: one specification for page and PDF, drawn as SVG by a small writer of our own."""
