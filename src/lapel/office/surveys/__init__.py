"""The surveys of one's sites, and each survey's road."""
