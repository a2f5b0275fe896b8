"""Pictures: one specification for page and PDF."""
