"""Values of scikit-survival for lives_with_ties.csv, as kept in values_by_scikit_survival.toml.

    python values_by_scikit_survival.py > values_by_scikit_survival.toml        (scikit-survival 0.28.0)

Its solver has no wheel for Python 3.13 and would need a compiler there, so the tests read these values instead.
"""

import csv
import sys
from pathlib import Path


def say(name, values):
    sys.stdout.write(f"{name} = [{', '.join(repr(float(value)) for value in values)}]\n")


def columns(fleet):
    import numpy as np

    with (Path(__file__).parent / "lives_with_ties.csv").open(encoding="utf-8") as lines:
        rows = [row for row in csv.DictReader(lines) if row["fleet"] == fleet]
    numbers = {name: np.array([int(row[name]) for row in rows]) for name in ("entry", "exit", "event")}
    return numbers | {name: np.array([row[name] for row in rows]) for name in ("kind", "why")}


def main():
    import numpy as np
    from sksurv import __version__
    from sksurv.compare import compare_survival
    from sksurv.nonparametric import (
        cumulative_incidence_competing_risks,
        kaplan_meier_estimator,
        nelson_aalen_estimator,
    )
    from sksurv.util import Surv

    sys.stdout.write(f"# Written by values_by_scikit_survival.py: scikit-survival {__version__}\n")
    for fleet in ("ties", "long lives", "single failure"):
        lives = columns(fleet)
        failed, leaves = lives["event"] == 1, lives["exit"].astype(float)
        ends = np.unique(leaves[failed])
        sys.stdout.write(f'\n["{fleet}"]\n')
        say("time", ends)
        time, share, limits = kaplan_meier_estimator(
            failed, leaves, time_enter=lives["entry"].astype(float), conf_type="log-log"
        )
        at = np.searchsorted(time, ends)
        say("survival_late_entry", share[at])
        say("lower_late_entry", limits[0][at])
        say("upper_late_entry", limits[1][at])
        time, total = nelson_aalen_estimator(failed, leaves)
        say("cumulative_hazard", total[np.searchsorted(time, ends)])
        code = {"leak": 1, "wear": 2}
        cause = np.array([code[why] if event else 0 for why, event in zip(lives["why"], failed, strict=True)])
        if cause.max() == len(set(cause) - {0}):
            time, incidence = cumulative_incidence_competing_risks(cause, leaves)
            at = np.searchsorted(time, ends)
            for name, number in code.items():
                say(f"{name}_from_new", incidence[number][at])
        if failed.sum() > 1:  # with one failure it stops at a singular matrix
            say("log_rank", compare_survival(Surv.from_arrays(failed, leaves), lives["kind"]))


if __name__ == "__main__":
    main()
