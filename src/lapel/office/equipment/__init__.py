"""Pumps, splitters and meters: what falls due, how each behaved over time, and who changed what."""
