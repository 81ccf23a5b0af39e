"""What a snapshot tells people and programs outside: everything but how long a safety-critical part lasts (rule 39)."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from analytics.safety import critical_by_name
from analytics.snapshot.read import read_table

if TYPE_CHECKING:
    import duckdb

LIFE_ROWS = ("survival_curve", "life_survival")
"""Tables whose every row tells a life: those of safety-critical components stay inside."""

LIFE_FIGURES = {
    "life_model": (
        tuple(f"{life}{limit}" for life in ("life", "life10", "life50") for limit in ("", "_lower", "_upper")),
        "status",
    ),
    "sensitivity": (("life50", "life50_lower", "life50_upper", "times_shown"), "status"),
    "expert_opinion": (
        (
            *("first_years", "first_good", "second_years", "second_good", "opinion_life50"),
            *(f"{records}life50{limit}" for records in ("", "records_") for limit in ("", "_lower", "_upper")),
        ),
        "status",
    ),
    "comparison": (("life_ratio", "lower", "upper"), "status"),
    "failure_interval": (("median_interval_days",), "median_status"),
    "follow_on": (("median_days",), "median_status"),
    "repeat_repair": (
        (
            *("expected_by_chance", "chance_lower", "chance_upper"),
            *("excess", "excess_lower", "excess_upper"),
            *("p_value", "adjusted_p"),  # with the returns, they give what was expected
        ),
        "status",
    ),
}
"""Tables with columns that tell a life, and the column that says why they are empty."""

WHOSE = {"follow_on": "then"}
"""Column that names the component whose life a row tells, where it is not ``component``."""

SAFETY_CRITICAL = "safety-critical"
"""Status of a figure that is withheld."""


def safety_critical(connection: duckdb.DuckDBPyConnection) -> list[str]:
    """Return the names of the safety-critical components, in order.

    Notes
    -----
    A component that was never watched has no life model; one with gaps between failures or with repairs goes by its
    name.
    """
    models = read_table(connection, "life_model")
    named = {
        *read_table(connection, "failure_interval")["component"],
        *read_table(connection, "repeat_repair")["component"],
    }
    unwatched = named - {*models["component"]}
    return sorted({*models.filter("safety_critical")["component"], *filter(critical_by_name, unwatched)})


def read_told(connection: duckdb.DuckDBPyConnection, name: str, /, **equals: str | int | float | bool) -> pl.DataFrame:
    """Return a snapshot table as it may be shown, exported or published.

    Parameters
    ----------
    connection
        As from `open_snapshot`.
    name
        Name of a declared table.
    **equals
        Column name and the value it must have.

    Returns
    -------
    polars.DataFrame
        As `read_table`, without lives, curves and median gaps of safety-critical components.

    Raises
    ------
    SnapshotError
        If the table or a column is not declared.

    Notes
    -----
    Rule 39. The fits stay in the snapshot, because the demand of such parts is computed from them: more are put on
    the shelf, none is run longer.
    """
    frame = read_table(connection, name, **equals)
    if name not in LIFE_ROWS and name not in LIFE_FIGURES:
        return frame
    critical = pl.col(WHOSE.get(name, "component")).is_in(safety_critical(connection))
    if name in LIFE_ROWS:
        return frame.filter(~critical)
    figures, status = LIFE_FIGURES[name]
    return frame.with_columns(pl.when(~critical).then(pl.col(figure)).alias(figure) for figure in figures).with_columns(
        pl.when(critical).then(pl.lit(SAFETY_CRITICAL)).otherwise(status).alias(status)
    )
