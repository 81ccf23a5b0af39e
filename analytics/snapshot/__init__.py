"""The published result: declared tables, writing, reading."""
