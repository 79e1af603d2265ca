"""What a compiled march may come back with."""

FINE, NOT_SETTLED, NOT_FINITE = 0, 1, 2
