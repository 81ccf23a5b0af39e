"""All that the records tell of complaints, checks and readings, as snapshot tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analytics.recurrence.check_order import check_orders
from analytics.recurrence.check_replay import check_replay
from analytics.recurrence.complaints import published
from analytics.recurrence.gauges import check_readings, reading_drifts

if TYPE_CHECKING:
    from collections.abc import Mapping

    import polars as pl

    from analytics.parameters import Parameters


def look_first(
    cause: pl.DataFrame,
    fact: pl.DataFrame,
    readings: pl.DataFrame,
    feed: Mapping[str, pl.DataFrame],
    parameters: Parameters,
) -> dict[str, pl.DataFrame]:
    """Return the snapshot tables of complaints, checks and readings, by name.

    Parameters
    ----------
    cause, fact, readings
        Rows of ``complaint_cause``, ``check_fact`` and ``reading_taken``.
    feed
        Feed tables ``locations`` and ``limits``, and ``component_fact`` with `component` and `safety_critical`.
    parameters
        The named defaults of the rules of record.
    """
    told = published(cause, parameters)
    critical = feed["component_fact"].filter("safety_critical")["component"].sort().to_list()
    asked = (told, fact, feed["locations"], critical, parameters)
    taken = check_readings(readings, feed["limits"])
    return {
        "check_order": check_orders(*asked),
        "complaint": told.drop("weight"),
        "check_replay": check_replay(*asked),
        "check_reading": taken,
        "reading_drift": reading_drifts(taken, parameters),
    }
