"""The long run: ``python -m tests.fuzz --rows 1000000 --seed N``; what fails names the command that repeats it."""

from __future__ import annotations

import argparse
import sys
import time
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.fuzz.rounds import Rounds


def main() -> None:
    """Run rounds until enough rows were read, and show progress."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("--rows", type=int, default=1_000_000, help="stop when so many rows were read")
    parser.add_argument("--seed", type=int, default=1, help="every round follows from it and from its number")
    parser.add_argument("--from-round", type=int, default=0, help="number of the first round")
    parser.add_argument("--rounds", type=int, default=sys.maxsize, help="stop after so many rounds")
    parser.add_argument("--minutes", type=float, default=1e9, help="stop after so many minutes")
    chosen = parser.parse_args()
    began = time.monotonic()
    with TemporaryDirectory() as folder:
        rounds = Rounds(chosen.seed, Path(folder))
        slowest = (0.0, 0)
        for number in count(chosen.from_round):
            minutes = (time.monotonic() - began) / 60
            if rounds.count.rows >= chosen.rows or rounds.count.rounds >= chosen.rounds or minutes >= chosen.minutes:
                break
            before = time.monotonic()
            rounds.run(number)
            slowest = max(slowest, (time.monotonic() - before, number))
            if rounds.count.rounds % 10 == 0:
                print(_told(rounds, began, slowest), flush=True)  # noqa: T201 - progress of a long run
        rounds.close_ledger()
        print(_told(rounds, began, slowest))  # noqa: T201 - the same
        print("refused:", *(f"{n} x {words} ..." for words, n in rounds.count.refused.most_common()), sep="\n  ")  # noqa: T201


def _told(rounds: Rounds, began: float, slowest: tuple[float, int]) -> str:
    done = rounds.count
    became = ", ".join(f"{n} {what}" for what, n in done.became.items())
    return (
        f"{time.monotonic() - began:.0f} s: {done.rounds} rounds, {done.rows} rows ({became}, "
        f"{done.mended} mended), {done.feeds} feeds taken, {done.refused.total()} refused; "
        f"slowest round {slowest[1]} took {slowest[0]:.1f} s"
    )


if __name__ == "__main__":
    main()
