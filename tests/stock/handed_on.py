"""What the pipeline hands to the forecast of demand, from a ledger."""

import polars as pl

from analytics import pipeline
from analytics.parameters import Parameters
from analytics.recurrence.wear import scale_choices
from analytics.spells.exposure import build_exposure
from analytics.stock_inputs import care_records, stock_records

NO_VARIANT = pl.DataFrame(
    schema={
        "component": pl.String,
        "grouping": pl.String,
        "level": pl.String,
        "scale": pl.String,
        "default_grouping": pl.Boolean,
    }
)
"""Life models in which no component is shown by variant."""


def handed_on(ledger, as_of, parameters=None):
    """Return records and care as `forecast_stock` takes them, and the feed's stock counts."""
    parameters = parameters or Parameters()
    exposure = build_exposure(ledger, as_of, parameters)
    feed = pipeline._feed_tables(ledger)
    scales = scale_choices(exposure.spell, pipeline._without_distance_law(exposure), parameters)
    spells = pipeline._fair(exposure)
    care = care_records(exposure, spells, feed["component_fact"], NO_VARIANT, scales)
    return stock_records(exposure, feed, as_of), care, feed["stock"]
