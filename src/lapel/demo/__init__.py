"""The demonstration: two invented surveys with everyone who works on them, for people to try and for tests."""
