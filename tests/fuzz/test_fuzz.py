"""Some 700 spoilt rows on every run; ``python -m tests.fuzz --rows 1000000 --seed N`` is the long run."""

from itertools import count

from tests.fuzz.rounds import LOADS_OF_A_LEDGER, Rounds
from tests.thoroughness import tried

ROWS = tried(2_000, 700)
SIZES = (3, 40, 250)
SEED = 20261125


def test_spoilt_rows_break_nothing_and_every_one_is_accounted_for(tmp_path):
    rounds = Rounds(SEED, tmp_path, SIZES)
    for number in count():
        if rounds.count.rows >= ROWS and number % LOADS_OF_A_LEDGER == 0:
            break
        rounds.run(number)
    became = rounds.count.became
    assert sum(became.values()) == rounds.count.rows
    assert all(became[what] for what in ("accepted", "unchanged", "revised", "quarantined"))
    assert rounds.count.refused.total() < rounds.count.feeds
    assert rounds.count.mended
