"""One question per page, each a function ``render()``."""
