"""The office pages: a view asks, writes through one door, and renders."""
