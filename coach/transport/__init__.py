"""How a message of the standard travels: lines and frames to payloads, on CAN and before it. Pure; for every source."""
