"""Dispatch: what is packed and sealed, through whose hands it goes, and the forms that go with it."""
