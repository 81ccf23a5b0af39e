"""Everything that stands below a life: scales, kinds, two designs, what it turns on, replacement, an opinion."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboards.views import designs, opinion, told_apart, turns_on

if TYPE_CHECKING:
    import polars as pl

    from dashboards.answers.said import Row
    from dashboards.data import Snapshot


def show(snapshot: Snapshot, models: pl.DataFrame, model: Row, asked: int | None) -> None:
    """Show what belongs beside the life on the page.

    Parameters
    ----------
    snapshot
        The newest snapshot.
    models
        Rows of ``life_model`` of the component on the scale shown.
    model
        The row shown.
    asked
        Age the page asks at, None where there is no curve.
    """
    told_apart.wears_by(snapshot, model["component"])
    told_apart.show(snapshot, models, model["grouping"])
    designs.show(snapshot, models, asked)
    turns_on.show(snapshot, model)
    opinion.show(snapshot, model["component"])
