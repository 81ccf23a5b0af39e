"""How benchmarks ask for their size, take times and print them."""

import argparse
import platform
import statistics
import time
from importlib.metadata import version

OURS = "WearLedger"


def asked(text, size, groups=None, repeat=3):
    """Read ``--size``, ``--repeat`` and perhaps ``--groups`` from the command line; `text` is the benchmark's own."""
    parser = argparse.ArgumentParser(description=text, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--size", type=int, default=size, metavar="N", help="default %(default)s")
    parser.add_argument("--repeat", type=int, default=repeat, metavar="N", help="runs of each; the median is told")
    if groups is not None:
        parser.add_argument("--groups", type=int, default=groups, metavar="N", help="default %(default)s")
    given = parser.parse_args()
    if min(vars(given).values()) < 1:
        parser.error("every number must be at least 1")
    return given


def median_seconds(runs, repeat):
    """Return the median wall time of each run by name; the runs take turns, so that other load meets all of them."""
    return median_times(runs, repeat)[0]


def median_times(runs, repeat):
    """Return the median wall time and the median processor time (user and system) of each run by name."""
    times = {name: [] for name in runs}
    for _ in range(repeat):
        for name, run in runs.items():
            began, used = time.perf_counter(), time.process_time()
            run()
            times[name].append((time.perf_counter() - began, time.process_time() - used))
    return [
        {name: statistics.median(each[place] for each in taken) for name, taken in times.items()} for place in range(2)
    ]


def show(title, seconds, columns=None):
    """Print a row per run; the ratio is our time over that run's, below 1 where ours is the faster.

    `columns` are further cells by heading and name of the run.
    """
    more = columns or {}
    rows = [("", "seconds", "ours / this", *more)]
    for name, taken in seconds.items():
        cells = [cells.get(name, "") for cells in more.values()]
        rows.append((name, f"{taken:.3f}", f"{seconds[OURS] / taken:.3g}", *cells))
    widths = [max(len(row[place]) for row in rows) for place in range(len(rows[0]))]
    print(title)
    for row in rows:
        first, *others = (
            cell.ljust(width) if not at else cell.rjust(width)
            for at, (cell, width) in enumerate(zip(row, widths, strict=True))
        )
        print("  ".join([first, *others]))


def versions(*libraries):
    """Return the versions that were compared, in one line."""
    told = ", ".join(f"{name} {version(name)}" for name in libraries)
    return f"Python {platform.python_version()}, {told}"
