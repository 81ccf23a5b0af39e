"""Pieces of pages: an answer with its drawing and the records behind it."""
