"""The journal: what came in, one JSON line a record, readable with any tool. It holds no conclusions."""
