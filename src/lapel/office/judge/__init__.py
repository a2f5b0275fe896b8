"""Judge, the group: every group against every long-term limit, from the shifts up."""
