"""What the commands of the shelf do: what to order now, and how good past forecasts were."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from analytics.backtesting import backtest as run_backtest
from analytics.cells import neutralised
from analytics.counting import count
from analytics.newest import newest_snapshot
from analytics.order_file import write_order_list
from analytics.order_list import order_list, sentences
from analytics.paths import writing
from analytics.telling import Stages

if TYPE_CHECKING:
    from argparse import Namespace
    from pathlib import Path


def backtest(data_dir: Path, chosen: Namespace) -> int:
    """Hold the forecasts of past days against what happened; say it by method, write every check where asked."""
    said = Stages()
    found = run_backtest(data_dir, as_of=chosen.as_of, origins=chosen.origins, progress=said)
    said.done()
    for line in found.sentences():
        print(line)
    if chosen.to:
        with writing(chosen.to, "backtest --to"):
            chosen.to.write_text(neutralised(found.checks).write_csv(), encoding="utf-8")
        print(f"written to {chosen.to}: {count(found.checks.height, 'check')}")
    print(f"snapshot {found.snapshot_id} holds them; page On the shelf shows them")
    return 0


def restock(data_dir: Path, chosen: Namespace) -> int:
    """Say what to order now, by supplier, or write it to a file."""
    orders = order_list(newest_snapshot(data_dir))
    if not chosen.to:
        print("\n".join(sentences(orders)))
        return 0
    with writing(chosen.to, "restock --to"):
        write_order_list(orders, chosen.to)
    print(f"written to {chosen.to}: {count(orders.rows.height, 'part')} to order of {orders.parts:,} known")
    if orders.untold.height:
        many = count(orders.untold.height, "part")
        print(f"no order can be told of {many}: they stand apart, with the reason", file=sys.stderr)
    return 0
