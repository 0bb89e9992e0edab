"""Exit codes, in one place: 0 ready or done, 1 not ready, 2 usage, 3 could not tell, 4 no connection."""

DONE, NOT_READY, USAGE, COULD_NOT_TELL, NO_CONNECTION = 0, 1, 2, 3, 4
