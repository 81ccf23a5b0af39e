"""Pure numeric functions on frames of spells; no I/O, no database."""
