"""People: signing in, the second factor, one's own account, and who may do what on a site."""
