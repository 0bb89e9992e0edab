"""Other recordings become arrivals: tables of physical values. It reads; the journal is written elsewhere."""
