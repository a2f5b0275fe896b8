"""Texts of letters, postings and reports, one file a language; a firm's own file may replace any of them."""
