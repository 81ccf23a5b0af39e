"""How many instants, places and sizes a search tries: a spread share on every run, all of them where that is asked for.

``WEARLEDGER_WHOLE_SIZE=1`` asks for all; it takes the better part of an hour more on two cores.
"""

import os

WHOLE = "WEARLEDGER_WHOLE_SIZE" in os.environ


def tried(all_of_them: int, on_every_run: int) -> int:
    """Return the count, or the step, of this run."""
    return all_of_them if WHOLE else on_every_run
