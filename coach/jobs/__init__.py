"""Jobs: one folder a repair, from the first read-out to the sign-off, safe against two programs and a full disk."""
