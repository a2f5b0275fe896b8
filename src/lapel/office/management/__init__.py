"""Commands that the office runs for itself."""
