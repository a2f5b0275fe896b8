"""The plan's tables of a survey folder: their layout, the reader, and plans edited by hand."""
