"""Show what goes on the shelf.

Reads     : reorder, order_choice, demand, demand_car, supply_end, part_fit, part_for_car, part_misfit,
            catalogue_finding, record, forecast_score, shortage_curve
Shows     : what to order now, of each part twenty outlooks against the shelf, a pack less or more, why, all parts,
            the order list as a file, which part fits a car, how past forecasts did, parts sold and used lately
Empty case: without a parts list or a stock count, says so and shows what is known
"""

from __future__ import annotations

import polars as pl
import streamlit as st

from dashboards import choices, data, layout, words
from dashboards.answers import parts
from dashboards.answers import shelf as told
from dashboards.views import foresight, last_buy, order, shelf, which_part

NO_PART = (
    "No record and no parts list names a part number. Load repairs with part_no filled in, a table parts, "
    "or part invoices as a table sales."
)


def render() -> None:
    """Draw the page."""
    snapshot = data.current()
    st.title("What goes on the shelf?", anchor=False)
    groups = snapshot.rows("reorder")
    if groups.is_empty():
        layout.blank("shelf", "Nothing can be planned yet.", (NO_PART,))
    else:
        names = {row["part_no"]: told.title_of(row) for row in groups.iter_rows(named=True)}
        listed = groups.sort("components", "part_no")["part_no"].to_list()
        ranked = parts.order_first(groups, snapshot.rows("demand"))
        st.markdown(words.plain(parts.in_short(ranked)))
        first = ranked["part_no"][0]
        part = choices.one_of("part", "Part, any interchangeable number", listed, first=first, said=names.__getitem__)
        row = groups.filter(pl.col("part_no") == part).row(0, named=True)
        shelf.show(snapshot, row)
        last_buy.show(snapshot, row)
        shelf.every_part(ranked)
        order.show(snapshot)
        which_part.show(snapshot)
        foresight.show(snapshot, part)
    shelf.used_lately(snapshot, groups)
