"""Repairs that came back, for a snapshot by hand: rows of ``repeat_repair`` and the pairs of records behind them."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from scipy.stats import chi2

if TYPE_CHECKING:
    from tests.dashboards.snapshot_rows import Fleet, Row


def held_row(
    component: str, action: str, repairs: int, returns: int, fence: tuple[float, int, int] | None, **more: Any
) -> Row:
    """Return a row; `fence`: returns expected by chance and their limits, None where no life is known."""
    told = {"component": component, "action": action, "part_origin": "all", "repairs": repairs, "returns": returns}
    share = returns / repairs if repairs else None
    told |= {"vehicles": repairs, "share": share, "verdict": "no more than chance", "status": "ok"}
    if share is not None:
        told |= {"lower": share * 0.4, "upper": min(1.0, share * 2 + 0.03)}
    if fence:
        told |= {"expected_by_chance": fence[0], "chance_lower": fence[1], "chance_upper": fence[2], "adjusted_p": 0.6}
        least, most = chi2.ppf(0.05, 2 * returns) / 2 if returns else 0.0, chi2.ppf(0.95, 2 * returns + 2) / 2
        told |= {"excess": returns - fence[0], "excess_lower": least - fence[0], "excess_upper": most - fence[0]}
    return told | more


def add_returns(fleet: Fleet) -> None:
    """Add kinds of repair that come back, that do not, of which too little is known, and one critical for safety."""
    sure = {"verdict": "more than chance", "adjusted_p": 0.001}
    few = {"verdict": "cannot be told", "status": "too few"}
    fleet.rows["repeat_repair"] += [
        held_row("window motor", "overhauled", 43, 6, (0.9, 0, 2), **sure, repairs_open=1, repairs_left=3),
        held_row("window motor", "exchanged", 51, 2, (1.0, 0, 3)),
        held_row("window motor", "overhauled", 20, 6, (0.4, 0, 1), **sure, part_origin="reproduction"),
        held_row("bonnet cable", "repaired", 38, 3, (1.6, 0, 4)),
        held_row("height control valve", "resealed", 9, 1, (0.1, 0, 1), **few),
        held_row("fuel hose", "replaced", 60, 7, (0.8, 0, 2), **{**sure, "adjusted_p": 0.01}),
        held_row("lamp", "replaced", 30, 1, None, verdict="cannot be told", status="no life known"),
        held_row("horn", "adjusted", 0, 0, None, **few, repairs_open=2),
    ]
    for k in range(6):
        on, car = date(2018 + k, 3, 1), f"LW2-{8000 + k:05d}"
        first = fleet.job(car, on, "window motor", "left", action="overhauled", reason="planned")
        back = fleet.job(car, on + timedelta(days=20), "window motor", "left", action="exchanged", part_no="SL-8102")
        told = {"repair_record": first, "return_record": back, "vehicle_id": car, "series": "S2"}
        told |= {"component": "window motor", "position": "left", "action": "overhauled", "part_origin": "reproduction"}
        days = {"handed_on": on + timedelta(days=2), "returned_on": on + timedelta(days=20), "days": 18}
        fleet.rows["return_pair"].append({**told, **days, "km": 300 + k if k else None, "position_blank": k == 5})
