"""Devices of a site: pairing by a code shown once, when each was last heard of, what waits on it, its revocation."""
