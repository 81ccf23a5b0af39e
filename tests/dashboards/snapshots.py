"""Small snapshots: a rich one, a thin one, a fleet of buses, and an empty one."""

from __future__ import annotations

import math
from datetime import date, timedelta
from typing import TYPE_CHECKING

from tests.dashboards.held_rows import add_returns
from tests.dashboards.snapshot_rows import AS_OF, YEAR, Fleet, Row, group, life_rows, model_row, write

if TYPE_CHECKING:
    from pathlib import Path


def rich(folder: Path) -> Path:
    """Everything the first pages can show."""
    fleet = Fleet()
    for k in range(12):
        fleet.car(f"LW2-{8000 + k:05d}", "S2", visits=20 - k)
    fleet.car("LW1-00001", "S1", first_seen=AS_OF, last_seen=AS_OF, visits=1)
    fleet.car("LW1-00002", "S1", first_seen=date(2014, 3, 2), last_seen=date(2019, 6, 5), built_on=None)
    _flaps(fleet)
    _others(fleet)
    _places(fleet)
    _slots(fleet)
    _stock(fleet)
    _one_car(fleet)
    add_returns(fleet)
    fleet.rows["data_quality"] = [
        {"kind": "faults without a place", "count": 25, "share": 0.25, "says": "left off the plan"},
        {"kind": "waiting in quarantine: repairs, closed_on", "count": 37, "says": "mend it and load it again"},
    ]
    return write(folder, fleet.rows, "2026-11-24-rich0001")


def _flaps(fleet: Fleet) -> None:
    slots = ["screen", "foot", "face left", "face right"]
    fleet.lives("flap actuator", slots, 30, 44, variant="SL-7101")
    fleet.lives("flap actuator", slots, 10, 40, variant="SL-7102")
    every, old, new = (
        group("flap actuator"),
        group("flap actuator", "variant", "SL-7101"),
        group("flap actuator", "variant", "SL-7102"),
    )
    for of, failures, units, life in ((every, 40, 84, 10), (old, 30, 44, 8), (new, 10, 40, 16)):
        chosen = of["grouping"] == "variant"
        more = {"default_grouping": chosen, "family": "diaphragms", "system": "Ventilation"}
        fleet.rows["life_model"].append(model_row(of, failures, units, life * 0.88 * YEAR, **more))
        fleet.rows["life_survival"] += life_rows(of, life * YEAR, 2.6, 1.15)
        fleet.curve(of, 12, life * YEAR)
    _choices(fleet, every, old)
    far = group("flap actuator", scale="distance")
    fleet.rows["life_model"].append(model_row(far, 12, 40, 61_000.0, default_grouping=True))
    fleet.rows["life_survival"] += life_rows(far, 70_000, 1.4, 1.4)
    for k in range(40):
        fleet.rows["spell"].append({**fleet.rows["spell"][k], "scale": "distance", "exit": 9_000 + 2_000 * k})


def _choices(fleet: Fleet, every: Row, shown: Row) -> None:
    of_it = {"component": every["component"], "basis": "own", "status": "ok", "failures": 40, "units": 84}
    for choice, times in (("as shown", 1.0), ("last visit", 0.95), ("day of analysis", 1.4)):
        life = {"life50": 3200.0 * times, "life50_lower": 2900.0 * times, "life50_upper": 3600.0 * times}
        fleet.rows["sensitivity"].append({**of_it, **life, "choice": choice, "scale": "age", "times_shown": times})
    far = {"choice": "by distance", "scale": "distance", "life50": 61_000.0, "life50_lower": 50_000.0}
    fleet.rows["sensitivity"].append({**of_it, **far})
    fleet.rows["expert_opinion"].append(
        {
            **of_it,
            **{"first_years": 5.0, "first_good": 9.0, "second_years": 10.0, "second_good": 4.0, "source": "bench"},
            **{"cars": 8.0, "cars_counted": 5.0, "opinion_life50": 9.0 * YEAR, "opinion_share": 0.3},
            **{"records_life50": 3200.0, "records_life50_lower": 2900.0, "records_life50_upper": 3600.0},
            **{"life50": 3220.0, "life50_lower": 2950.0, "life50_upper": 3500.0},
        }
    )
    for ratio, age in ((2.0, 2600.0), (5.0, 1700.0)):
        limits = {"age_lower": age * 0.9, "age_upper": age * 1.1, "saving_lower": 0.2, "saving_upper": 0.36}
        row = {**shown, **limits, "cost_ratio": ratio, "failures": 30, "age": age, "saving": 0.28, "status": "ok"}
        fleet.rows["planned_replacement"].append(row)


def _others(fleet: Fleet) -> None:
    fleet.lives("fuel hose", ["only"], 9, 30, variant="SL-2102")
    fleet.lives("coolant hose", ["top", "bottom"], 2, 30, variant="SL-1101")
    fleet.lives("window motor", ["left", "right"], 3, 20, variant="unknown")
    fleet.lives("trigger unit", ["only"], 0, 23, variant="unknown")
    fleet.lives("coil", ["only"], 1, 9, variant="unknown")
    models = fleet.rows["life_model"]
    models.append(model_row(group("fuel hose"), 9, 30, 4000.0, safety_critical=True, default_grouping=True))
    fleet.rows["life_survival"] += life_rows(group("fuel hose"), 4400, 2.6, 1.3)
    kin = {"basis": "family", "family": "rubber, group B", "family_members": 6, "family_failures": 41}
    models.append(model_row(group("coolant hose"), 2, 30, 3600.0, default_grouping=True, **kin))
    fleet.rows["life_survival"] += life_rows(group("coolant hose"), 4000, 2.4, 1.5)
    open_ended = {"status": "upper open", "life50": None, "life50_upper": None, "default_grouping": True}
    models.append(model_row(group("window motor"), 3, 20, 2000.0) | open_ended)
    fleet.rows["life_survival"] += life_rows(group("window motor"), 3000, 1.3, 2.4)
    none = {"basis": "bound only", "status": "bound only", "rate_upper": 1.72, "life50_lower": 4000.0}
    models.append(model_row(group("trigger unit"), 0, 23, None, default_grouping=True, **none))
    fleet.rows["life_survival"] += [
        {**row, "survival": None, "upper": None, "basis": "bound only"}
        for row in life_rows(group("trigger unit"), 6000, 1.4, 1.5)
    ]
    models.append(model_row(group("coil"), 1, 9, None, status="too few", default_grouping=True))


PLACES = [
    ("underbody", None, None, None, None),
    ("wheel arch rear left", "underbody", 0.14, 0.76, "below"),
    ("wheel arch rear right", "underbody", 0.86, 0.76, "below"),
    ("radiator base", None, 0.28, 0.045, "above"),
    ("scuttle drain", None, 0.30, 0.335, "above"),
    ("under rear seat", None, 0.50, 0.70, "above"),
]


def _places(fleet: Fleet) -> None:
    seen = {"wheel arch rear left": (14, 4.3), "wheel arch rear right": (5, 4.1), "underbody": (19, 11.0)}
    for basis in ("average place", "same place, other series"):
        for series in ("all", "S2") if basis == "average place" else ("S2",):
            for name, parent, x, y, deck in PLACES:
                seen_here, expected = seen.get(name, (5, 4.6))
                sure = name == "wheel arch rear left"
                ratio = seen_here / expected
                limits = {"ratio": ratio, "lower": ratio * 0.6, "upper": ratio * 1.6}
                shrunk = {"shrunken_ratio": 1 + (ratio - 1) * 0.7, "shrunken_lower": ratio * 0.5}
                fleet.rows["fault_location"].append(
                    {"location": name, "series": series, "basis": basis, "orders": seen_here, "vehicles": seen_here - 3}
                    | {"observed": seen_here, "expected": expected, **limits, **shrunk, "shrunken_upper": ratio * 1.3}
                    | {"probability_above_one": 0.999 if sure else 0.6, "name": name, "parent": parent}
                    | {"scan_p": 0.002 if sure else 0.9, "detectable_ratio": 2.6, "blanks": 5}
                    | {"scan_p_blanks_elsewhere": 0.01 if sure else 1.0, "scan_p_blanks_here": 0.01}
                    | {"x": x, "y": y, "deck": deck}
                )
    for k in range(20):
        place = PLACES[k % 5 + 1][0] if k < 15 else None
        fleet.job("LW2-08001", date(2015, 2, 1) + timedelta(days=170 * k), "drain", "only", location=place)


def _slots(fleet: Fleet) -> None:
    counts = {"screen": 20, "foot": 11, "face left": 6, "face right": 3}
    for position, failures in (*counts.items(), ("all", 40)):
        rate = failures / 4.1
        fleet.rows["failure_interval"].append(
            {"component": "flap actuator", "position": position, "series": "all", "failures": failures}
            | {"vehicles": 61, "vehicle_years": 410.0, "rate_per_100_vehicle_years": rate, "rate_lower": rate * 0.7}
            | {"rate_upper": rate * 1.4, "median_status": "ok", "trend_z": 3.6, "trend_p_value": 0.0003}
            | {"trend_adjusted_p": 0.001, "trend": "worsening"}
            | {"median_interval_days": 1500.0 if failures > 5 else None, "events_used": failures}
        )
    since = {"component": "flap actuator", "kind": "design", "modification": "SL-7102", "vehicles": 40, "led_to_it": 31}
    periods = {"before": (6, 150.0), "after": (10, 210.0), "unmodified": (38, 300.0)}
    for name, (failures, years) in periods.items():
        since |= {f"{name}_failures": failures, f"{name}_years": years, f"{name}_rate": 100 * failures / years}
        since |= {f"{name}_lower": 50 * failures / years, f"{name}_upper": 200 * failures / years}
    tested = {"expected": 24.0, "ratio": 10 / 24, "lower": 0.21, "upper": 0.83, "verdict": "fewer failures"}
    fleet.rows["before_after"].append({**since, **tested})
    sides = {"component": "flap actuator", "grouping": "position", "level_a": "screen", "failures_a": 20}
    for position, p in (("foot", 0.4), ("face left", 0.01)):
        ratio = counts[position] / 20
        tested = {"rate_ratio": ratio, "lower": ratio * 0.6, "upper": ratio * 1.6, "p_value": p, "adjusted_p": p}
        row = {**sides, **tested, "level_b": position, "failures_b": counts[position], "comparisons": 12}
        fleet.rows["interval_comparison"].append({**row, "vehicles_a": 61, "vehicles_b": 61, "status": "ok"})
    for position, failures in counts.items():
        of = group("flap actuator", "position", position)
        for k in range(1, failures + 1):
            m = failures * 0.006 * k
            row = {"time": 11_000 + 250 * k, "at_risk": 40 - k, "events": 1, "mcf": m, "lower": m * 0.7}
            fleet.rows["mean_cumulative"].append({**of, **row, "upper": m * 1.5})
    hose = {"component": "fuel hose", "position": "only", "series": "all", "failures": 9, "vehicles": 23}
    fleet.rows["failure_interval"].append(
        {**hose, "vehicle_years": 210.0, "rate_per_100_vehicle_years": 4.3, "rate_lower": 2.2, "rate_upper": 7.5}
        | {"median_status": "ok", "median_interval_days": 1500.0}
    )
    engine = {"component": "trigger unit", "position": "only", "series": "all", "vehicles": 23}
    fleet.rows["failure_interval"].append(
        {**engine, "vehicle_years": 210.0, "rate_per_100_vehicle_years": 0.0, "rate_lower": 0.0, "rate_upper": 1.4}
        | {"median_status": "too few"}
    )


def demand_rows(part_no: str, horizon: float, mean: float) -> list[Row]:
    mass = [math.exp(-mean) * mean**q / math.factorial(q) for q in range(40)]
    return [{"part_no": part_no, "horizon_days": horizon, "quantity": q, "probability": p} for q, p in enumerate(mass)]


def _stock(fleet: Fleet) -> None:
    base = {"horizon_days": 55.0, "service_level": 0.9, "method": "pooled rate", "basis": "rate", "car_years": 860.0}
    counted = {"on_hand": 6.0, "on_order": 0.0, "reserved": 0.0, "order_quantity": 6, "pack_size": 2}
    rows = fleet.rows["reorder"]
    rows.append(
        {"part_no": "SL-6101", "components": "gas accumulator", "repairs": 31, "looks_like": "SL-6102; SL-6103"}
        | {**base, **counted, "reason": "31 repairs took it in 860 car-years."}
    )
    rows.append(
        {"part_no": "SL-7102", "components": "flap actuator", "repairs": 3, **base, "reason": "No stock count."}
        | {"pack_size": 1}
    )
    refused = {**base, "basis": "too little to say", "reason": "Too little to say: no car takes it."}
    rows.append({"part_no": "SL-5120", "components": "front brake hose", "repairs": 0, **refused})
    fleet.rows["demand"] = demand_rows("SL-6101", 55.0, 7.2) + demand_rows("SL-7102", 55.0, 1.1)


def _one_car(fleet: Fleet) -> None:
    car = "LW2-08000"
    first = fleet.job(car, date(2014, 3, 4), "battery", "only", part_no="SL-4001")
    second = fleet.job(car, date(2019, 8, 9), "battery", "only", reason="planned", part_no="SL-4001")
    fleet.job(car, date(2022, 8, 9), "battery", "only", reason="planned", action="inspected", clean_check=True)
    fleet.job(car, date(2023, 2, 1), "battery", "only", reason="no fault found", action="none")
    fleet.job(car, date(2024, 2, 1), "battery", "only", reason="changed in passing", part_no="SL-4001")
    fleet.job(car, date(2026, 2, 1), "front brake hose", "left", reason="found at inspection", action="inspected")
    for unit_no, start in ((2, first), (3, second)):
        spell = {"vehicle_id": car, "component": "battery", "position": "only", "unit_no": unit_no, "series": "S2"}
        fleet.rows["spell"].append(
            {**spell, "scale": "age", "exit": 1900, "start_record": start, "cause": "planned", "age_known": True}
        )
    now = {"vehicle_id": car, "series": "S2", "age_known": True, "state": "running"}
    fleet.rows["unit_now"] = [
        {**now, "component": "battery", "position": "only", "unit_no": 3, "start_record": second, "age": 2600},
        {**now, "component": "front brake hose", "position": "left", "unit_no": 1, "age_known": False}
        | {"state": "fault found and left"},
        {**now, "component": "coil", "position": "only", "unit_no": 1, "age_known": False},
    ]
    fleet.rows["reading"] = [
        {"vehicle_id": car, "read_on": date(2014, 3, 4), "seen_at": first, "odometer": 61_200.0, "odometer_unit": "mi"}
        | {"total_km": 98_492.0, "verdict": "converted"}
    ]


def thin(folder: Path) -> Path:
    """Twenty records of three cars, nothing else."""
    fleet = Fleet(seed=3)
    parts = ["fuel hose", "battery", "coolant hose", None]
    for k in range(3):
        fleet.car(f"C{k + 1}", "early", first_seen=date(2025, 1, 8), last_seen=date(2026, 10, 1), built_on=None)
    for k in range(20):
        on = date(2025, 1, 8) + timedelta(days=31 * k)
        fleet.job(f"C{k % 3 + 1}", on, parts[k % 4], None, series="early", reason="failure" if k % 2 else "planned")
    for component in parts[:3]:
        assert component
        fleet.rows["life_model"].append(
            model_row(group(component), 1, 3, None, status="too few", default_grouping=True)
        )
    return write(folder, fleet.rows, "2026-11-24-thin0001")


def buses(folder: Path) -> Path:
    """A fleet with one component, no slots, no places, no parts."""
    fleet = Fleet(seed=5)
    for k in range(20):
        fleet.car(f"bus {k}", "bus", built_on=None)
    for k in range(30):
        on = date(2013, 1, 10) + timedelta(days=150 * k)
        line = fleet.job(f"bus {k % 20}", on, "engine", None, series="bus", action="overhauled")
        spell = {"vehicle_id": f"bus {k % 20}", "component": "engine", "position": "only", "unit_no": 1 + k // 20}
        fleet.rows["spell"].append(
            {**spell, "series": "bus", "scale": "distance", "exit": 40_000 + 4_000 * k, "event": 1, "cause": "failure"}
            | {"age_known": True, "end_record": line, "reason_recorded": True}
        )
    of = group("engine", scale="distance")
    fleet.rows["life_model"].append(model_row(of, 30, 30, 98_000.0, default_grouping=True, unit_time=3_000_000.0))
    fleet.rows["life_survival"] += life_rows(of, 110_000, 2.2, 1.12)
    fleet.curve(of, 20, 110_000)
    fleet.rows["failure_interval"].append(
        {"component": "engine", "position": "only", "series": "all", "failures": 30, "vehicles": 20}
        | {"vehicle_years": 220.0, "rate_per_100_vehicle_years": 13.6, "rate_lower": 9.8, "rate_upper": 18.6}
        | {"median_status": "ok", "median_interval_days": 2400.0, "events_used": 30}
    )
    return write(folder, fleet.rows, "2026-11-24-buses001")


def sales(folder: Path) -> Path:
    """Part invoices alone: no car, no job, no stock count."""
    fleet = Fleet()
    base = {"horizon_days": 30.0, "service_level": 0.99, "method": "pooled rate", "basis": "rate of sales"}
    base |= {"sales_years": 3.0, "repairs": 0, "car_years": 0.0, "on_order": 0.0, "reserved": 0.0, "pack_size": 1}
    for part_no, serves, sold in (("SL-7102", "flap actuator", 90), ("SL-4101", "not recorded", 2)):
        mean = sold / 36
        fleet.rows["reorder"].append(
            {"part_no": part_no, "components": serves, "sales": sold, "use_per_month": mean, **base}
            | {"reorder_point": 7 if sold > 2 else 1, "reason": "Sales alone speak."}
        )
        fleet.rows["demand"] += demand_rows(part_no, 30.0, mean)
    return write(folder, fleet.rows, "2026-11-24-sales001")


def nothing(folder: Path) -> Path:
    """A snapshot whose every table is empty."""
    return write(folder, {}, "2026-11-24-empty001")


BUILDERS = {"rich": rich, "thin": thin, "buses": buses, "sales": sales, "nothing": nothing}
