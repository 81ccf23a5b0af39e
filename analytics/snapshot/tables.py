"""The snapshot's declared tables: what other programs may read."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analytics.snapshot.check_tables import CHECK_ORDER, CHECK_READING, CHECK_REPLAY, COMPLAINT, READING_DRIFT
from analytics.snapshot.comparison_tables import COMPARISON, SCALE_CHOICE
from analytics.snapshot.fault_tables import (
    BEFORE_AFTER,
    FAILURE_INTERVAL,
    FAULT,
    FAULT_LOCATION,
    INTERVAL_COMPARISON,
    MEAN_CUMULATIVE,
)
from analytics.snapshot.fit_tables import CATALOGUE_FINDING, PART_FIT, PART_FOR_CAR, PART_MISFIT
from analytics.snapshot.follow_on_tables import FOLLOW_ON, FOLLOW_ON_PAIR
from analytics.snapshot.life_tables import (
    EXPERT_OPINION,
    LIFE_MODEL,
    LIFE_SURVIVAL,
    PLANNED_REPLACEMENT,
    SENSITIVITY,
    SPELL,
    SURVIVAL_CURVE,
    UNIT_NOW,
)
from analytics.snapshot.record_tables import DATA_QUALITY, META, READING, RECORD, VEHICLE
from analytics.snapshot.repair_tables import REPEAT_REPAIR, RETURN_PAIR
from analytics.snapshot.stock_tables import (
    DEMAND,
    DEMAND_CAR,
    FORECAST_CHECK,
    FORECAST_SCORE,
    ORDER_CHOICE,
    REORDER,
    SHORTAGE_CURVE,
    SUPPLY_END,
)

if TYPE_CHECKING:
    from analytics.records.table import Table

TABLES: dict[str, Table] = {
    table.name: table
    for table in (
        SPELL,
        SURVIVAL_CURVE,
        LIFE_MODEL,
        LIFE_SURVIVAL,
        SENSITIVITY,
        EXPERT_OPINION,
        SCALE_CHOICE,
        COMPARISON,
        PLANNED_REPLACEMENT,
        FAILURE_INTERVAL,
        INTERVAL_COMPARISON,
        BEFORE_AFTER,
        MEAN_CUMULATIVE,
        FAULT_LOCATION,
        FAULT,
        CHECK_ORDER,
        COMPLAINT,
        CHECK_REPLAY,
        CHECK_READING,
        READING_DRIFT,
        REPEAT_REPAIR,
        RETURN_PAIR,
        FOLLOW_ON,
        FOLLOW_ON_PAIR,
        REORDER,
        DEMAND,
        SUPPLY_END,
        FORECAST_CHECK,
        FORECAST_SCORE,
        SHORTAGE_CURVE,
        ORDER_CHOICE,
        DEMAND_CAR,
        PART_FIT,
        PART_FOR_CAR,
        PART_MISFIT,
        CATALOGUE_FINDING,
        VEHICLE,
        RECORD,
        UNIT_NOW,
        READING,
        DATA_QUALITY,
        META,
    )
}
"""The snapshot's tables by name."""
