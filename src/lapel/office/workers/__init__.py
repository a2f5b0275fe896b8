"""Workers of a site by code: the group each belongs to, since when, and coming to another one."""
