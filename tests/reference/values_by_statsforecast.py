"""Values of statsforecast for thin series of demand, as kept in values_by_statsforecast.toml.

    python values_by_statsforecast.py > values_by_statsforecast.toml        (statsforecast 2.1.1)

It brings a compiler of its own and many megabytes, so the tests read these values instead.
"""

import sys

SHARES = (0.1, 0.25)
"""Croston's methods have 0.1 built in; TSB is asked for each pair of these."""


def series(rng):
    """Draw demands of unlike thinness: a chance of a demand in a month, and sizes from 1 on."""
    for chance in (0.05, 0.1, 0.2, 0.4, 0.8, 1.0):
        for months in (12, 60):
            demand = (rng.random(months) < chance) * rng.geometric(0.4, months)
            yield [int(value) for value in demand]
    yield [0] * 11 + [3]
    yield [5] + [0] * 23


def main():
    import numpy as np
    from statsforecast import __version__
    from statsforecast.models import TSB, CrostonClassic, CrostonSBA

    sys.stdout.write(f"# Written by values_by_statsforecast.py: statsforecast {__version__}\n")
    for demand in series(np.random.default_rng(20)):
        history = np.array(demand, float)
        if not history.any():
            continue  # it has no forecast of nothing

        def first(model, known=history):
            return float(model.forecast(known, h=1)["mean"][0])

        sys.stdout.write(f"\n[[series]]\ndemand = {demand}\n")
        sys.stdout.write(f"croston = {first(CrostonClassic())!r}\nsba = {first(CrostonSBA())!r}\n")
        pairs = [(size, chance) for size in SHARES for chance in SHARES]
        sys.stdout.write(f"tsb = {[[*pair, first(TSB(*pair))] for pair in pairs]}\n")


if __name__ == "__main__":
    main()
