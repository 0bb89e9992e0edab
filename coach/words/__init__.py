"""Words for what the core says in ids and SI numbers: sentences, names, units of the user's choice. Decides nothing."""
