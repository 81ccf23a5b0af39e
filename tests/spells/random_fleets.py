"""Small random fleets with everything that makes records hard, from a seed."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np

from tests.fleet import ledger_of

if TYPE_CHECKING:
    import duckdb

FIRST = date(2000, 1, 1)
AS_OF = date(2010, 1, 1)
REASONS = ("failure", "failure", "found at inspection", "changed in passing", "planned", "planned", "consequence")
RARE = ("accident", "no fault found", "not recorded")
ACTIONS = ("replaced", "replaced", "repaired", "inspected", "inspected", "modified", "overhauled", "none", "adjusted")
PLACES = {"hose": (None,), "pad": ("front", "rear"), "lamp": (None,)}


def random_fleet(seed: int) -> duckdb.DuckDBPyConnection:
    """Return the ledger of one to four cars of two series with up to a dozen orders each."""
    rng = np.random.default_rng(seed)

    def pick(values: Any) -> Any:
        return values[int(rng.integers(len(values)))]

    def day(low: int = 0, high: int = 3650) -> date:
        return FIRST + timedelta(days=int(rng.integers(low, high)))

    vehicles, repairs, readings, fitted = [], [], [], []
    for car in "ABCD"[: int(rng.integers(1, 5))]:
        built = pick((None, day(-6000, 0), day(-300, 300)))
        left = pick((None, None, None, day(2500, 3650)))
        digits = pick((None, 5, 6))
        vehicles.append(
            {
                "vehicle_id": car,
                "series": pick(("S1", "S2")),
                "built_on": built,
                "left_on": left,
                "odometer_digits": digits,
            }
        )
        for number in range(int(rng.integers(1, 13))):
            opened = day()
            stay = int(pick((0, 0, 0, 1, 5, 20, 130)))
            for line in range(int(rng.integers(1, 4))):
                component = pick((*PLACES, None))
                reason = pick(REASONS) if rng.random() < 0.85 else pick(RARE)
                repairs.append(
                    {
                        "record_id": f"{car}{number}",
                        "line_no": line + 1,
                        "vehicle_id": car,
                        "opened_on": pick((opened, opened, None)) if line == 0 else None,
                        "closed_on": opened + timedelta(days=stay),
                        "component": component,
                        "position": pick(PLACES.get(component, (None,))) if rng.random() < 0.9 else None,
                        "location": pick((None, "front", "rear")),
                        "action": pick(ACTIONS),
                        "reason": reason,
                        "part_no": pick((None, None, "P1", "P2")),
                        "part_origin": pick((None, "new", "new", "used")),
                        "quantity": pick((None, 1, 1, 2, 0)),
                        "odometer": pick((None, None, float(10 * (opened - FIRST).days + rng.integers(0, 900)))),
                    }
                )
        for read_on in sorted({day() for _ in range(int(rng.integers(0, 5)))}):
            km = float(10 * (read_on - FIRST).days + rng.integers(0, 900))
            source = pick(("visit", "inspection", "annual return", None))
            readings.append({"vehicle_id": car, "read_on": read_on, "odometer": km, "source": source})
        if rng.random() < 0.5:
            told = day(-2000, 3650)
            fitted.append(
                {
                    "vehicle_id": car,
                    "component": pick(("hose", "pad")),
                    "position": pick((None, "front")),
                    "fitted_from": told,
                    "fitted_to": pick((None, told + timedelta(days=364))),
                }
            )
    components = [
        {"component": name, "position": position, "system": "any", "seen_at_service": name == "pad"}
        for name, positions in PLACES.items()
        for position in positions
        if name != "lamp"
    ]
    components.append({"component": "lamp", "series": "S1", "system": "any"})
    return ledger_of(
        vehicles=vehicles,
        repairs=repairs,
        readings=readings,
        fitted=fitted,
        components=pick((components, components, [])),
    )
