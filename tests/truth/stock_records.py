"""The closed records of simulated fleets: what the shop wrote down, each fleet a series with components of its own."""

import numpy as np

from tests.truth.stock_worlds import CAMPAIGN, COMPONENTS, FAILED, JOINING, PLANNED, day


def records(fleets):
    """Closed records of all fleets as feed tables, each fleet a series of its own with components of its own."""
    tables: dict[str, list[dict]] = {name: [] for name in ("vehicles", "repairs", "readings", "components", "parts")}
    tables["sales"] = []
    for number, made in enumerate(fleets):
        _catalogue(tables, number)
        _cars(tables, number, made)
        _lines(tables, number, made)
    return tables


def name(fleet_number, component):
    return f"c{component} of F{fleet_number}"


def part(fleet_number, component):
    return f"P{component}-F{fleet_number}"


def _catalogue(tables, number):
    for which, component in enumerate(COMPONENTS):
        row = {"component": name(number, which), "series": f"F{number}", "system": "body", "safety_critical": False}
        tables["components"] += [{**row, "position": f"place {p + 1}"} for p in range(component.positions)]
        # a measure, so that two of them do not mean two positions
        tables["parts"].append(
            {"part_no": part(number, which), "component": name(number, which), "unit": "metre", "series": f"F{number}"}
        )


def _cars(tables, number, made):
    for car in range(made.cars):
        ident = f"F{number}-{car}"
        tables["vehicles"].append(
            {"vehicle_id": ident, "series": f"F{number}", "built_on": day(made.built[car]), "odometer_digits": 6}
        )
        for time in np.unique(made.visits[car]):
            total = (time - made.built[car]) * made.use[car] * 1000
            tables["readings"].append(
                {
                    "vehicle_id": ident,
                    "read_on": day(time),
                    "odometer": round(total),
                    "odometer_unit": "km",
                    "source": "visit",
                }
            )


WRITTEN = {FAILED: "failure", PLANNED: "planned", JOINING: "found at inspection", CAMPAIGN: "planned"}


def _lines(tables, number, made):
    for line, (car, which, position, time, kind, two) in enumerate(made.events):
        on = day(time)
        tables["repairs"].append(
            {
                "record_id": f"F{number}-{car} {on}",
                "line_no": line + 1,
                "vehicle_id": f"F{number}-{car}",
                "opened_on": on,
                "closed_on": on,
                "component": name(number, which),
                "position": f"place {position + 1}",
                "action": "replaced",
                "reason": WRITTEN[kind],
                "part_no": part(number, which),
                "part_origin": "new",
                "quantity": float(two),
                "odometer": round((time - made.built[car]) * made.use[car] * 1000),
                "odometer_unit": "km",
            }
        )
    for which, times in enumerate(made.sold):
        tables["sales"] += [
            {"part_no": part(number, which), "sold_on": day(time), "quantity": 1.0} for time in times.tolist()
        ]
