"""Template tags of the office pages."""
