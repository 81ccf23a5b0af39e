"""Groups reckoned side by side give what one after another gives."""

import polars as pl
import pytest

from analytics.estimators import side_by_side
from analytics.parameters import Parameters
from analytics.records.feed import STOCK
from analytics.stock import STOCK_TABLES, forecast_stock
from tests.stock.test_reorder import AS_OF, line, records, table


@pytest.mark.parametrize("cores", [2, 3])
def test_any_number_of_threads_gives_the_same_tables_to_the_last_bit(monkeypatch, cores):
    lines = [line(n, car="abcdefgh"[n % 8], days_ago=40 + 30 * n, part_no=f"H{n % 5}") for n in range(30)]
    parts = [{"part_no": f"H{n}", "component": f"hose {n}", "lead_time_days": 20.0 + n} for n in range(5)]

    def told(threads):
        monkeypatch.setattr(side_by_side, "threads", lambda: threads)
        return forecast_stock(records(lines, parts=parts), table(STOCK, []), Parameters(), AS_OF)

    alone, together = told(1), told(cores)
    assert alone.reorder["part_no"].to_list() == [f"H{n}" for n in range(5)]
    for name in STOCK_TABLES:
        assert pl.DataFrame.equals(getattr(alone, name), getattr(together, name)), name
