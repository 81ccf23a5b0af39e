"""Rules 16 and 17 against slow twins in plain Python: one event of one car at a time."""

from dataclasses import fields
from datetime import date, timedelta

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from analytics.parameters import Parameters
from analytics.spells.positions import UnitEvents, fill_positions
from tests.spells.history_of import car, history, job, own_order, places, rows

POSITIONS = ("a", "b", "c")


def oldest_first(state, allowed, rank=lambda position: position):
    """Return the allowed positions, never renewed ones first, then by day of renewal, then by rank."""
    return sorted(allowed, key=lambda position: (state.get(position, float("-inf")), rank(position)))


def by_hand(group):
    """Return position and units renewed in passing of every event of one car and component.

    An event is (order, position or None, renews, units, day, positions that the part fits).
    """
    count, events = group
    state, answers = {}, []
    for order, position, renews, units, day, fits in events:
        allowed = {p for p in fits if p < count} or set(range(count))
        if position is None:
            position = oldest_first(state, allowed)[0]
        passing = set()
        if renews:
            own = {p for o, p, r, *_ in events if o == order and r and p is not None}
            passing = set(oldest_first(state, allowed - own - {position})[: units - 1])
            state.update(dict.fromkeys({position, *passing}, day))
        answers.append((position, passing))
    return answers


@st.composite
def groups(draw):
    count = draw(st.integers(1, 4))
    events, day = [], 0
    for order in range(draw(st.integers(0, 6))):
        day += draw(st.integers(0, 2))
        named = sorted(draw(st.sets(st.integers(0, count - 1))))
        for position in [*named, None] if draw(st.booleans()) else named:
            fits = draw(st.sets(st.integers(0, 3)))
            events.append((order, position, draw(st.booleans()), draw(st.integers(1, 5)), day, fits))
    return count, events


@settings(deadline=None)
@given(st.lists(groups(), max_size=5))
def test_rule_16_units_filled_in_equal_those_of_a_slow_twin(fleet):
    flat = [(g, count, *event) for g, (count, events) in enumerate(fleet) for event in events]
    columns = {
        "group": [g for g, *_ in flat],
        "order": [g * 100 + order for g, _, order, *_ in flat],
        "position": [-1 if p is None else p for _, _, _, p, *_ in flat],
        "positions": [count for _, count, *_ in flat],
        "renews": [r for _, _, _, _, r, *_ in flat],
        "units": [u for *_, u, _, _ in flat],
        "day": [d for *_, d, _ in flat],
        "fits": [[p in fits for p in range(4)] for *_, fits in flat],
    }
    arrays = {name: np.array(values) for name, values in columns.items()}
    arrays["fits"] = arrays["fits"].reshape(len(flat), 4).astype(bool)
    arrays["renews"] = arrays["renews"].astype(bool)
    numbers = {f.name for f in fields(UnitEvents)} - {"fits", "renews"}
    filled = fill_positions(UnitEvents(**{k: v.astype(np.int64) if k in numbers else v for k, v in arrays.items()}))
    found = [(p, set(np.flatnonzero(passing).tolist())) for p, passing in zip(*_parts(filled), strict=True)]
    assert found == [answer for group in fleet for answer in by_hand(group)]


def _parts(filled):
    return filled.position.tolist(), filled.passing


LINES = st.tuples(st.sampled_from([*POSITIONS, None]), st.booleans(), st.integers(1, 3))
ORDERS = st.lists(st.tuples(st.integers(0, 40), st.lists(LINES, min_size=1, max_size=3)), max_size=6)


def repairs_by_hand(orders, vehicle_id):
    """Return (order, position, lines) of every repair of one car, walking through its orders by day."""
    state, found = {}, []
    order = own_order(POSITIONS, vehicle_id)
    for number, (day, lines) in sorted(enumerate(orders), key=lambda pair: (pair[1][0], name(pair[0]))):
        places_named = {p for p, *_ in lines if p}
        renews_named = any(renews for p, renews, _ in lines if p)
        told = {p: [line for line in lines if line[0] == p] for p in sorted(places_named)}
        blank = []
        for line in (line for line in lines if line[0] is None):
            alone = len(places_named) == 1 and not (line[1] and renews_named)
            (told[min(places_named)] if alone else blank).append(line)
        own = {p for p, group in told.items() if any(renews for _, renews, _ in group)}
        counted = dict.fromkeys(told, 0)
        for position, group in [*told.items(), *([(None, blank)] if blank else [])]:
            at = position or oldest_first(state, order, order.index)[0]
            counted[at] = counted.get(at, 0) + len(group)
            units = sum(quantity for _, renews, quantity in group if renews)
            if units:
                others = set(POSITIONS) - own - {at}
                passing = oldest_first(state, others, order.index)[: units - 1]
                state.update(dict.fromkeys([at, *passing], day))
                counted.update({p: counted.get(p, 0) for p in passing})
        found += [(name(number), position, count) for position, count in counted.items()]
    return sorted(found)


def name(number):
    return f"R{number}"


def on(day):
    return date(2001, 1, 1) + timedelta(days=100 * day)


@settings(max_examples=20, deadline=None)
@given(st.lists(ORDERS, min_size=1, max_size=6))
def test_rule_16_repairs_equal_those_of_a_slow_twin(fleet):
    vehicles = [car(f"V{number}") for number in range(len(fleet))]
    repairs = [
        job(
            on(day),
            vehicle_id=vehicle["vehicle_id"],
            record_id=name(number),
            line_no=10 * n + int(vehicle["vehicle_id"][1:]),
            position=position,
            action="replaced" if renews else "adjusted",
            quantity=float(quantity),
        )
        for vehicle, orders in zip(vehicles, fleet, strict=True)
        for number, (day, lines) in enumerate(orders)
        for n, (position, renews, quantity) in enumerate(lines, start=1)
    ]
    connection = history(
        vehicles=vehicles,
        repairs=repairs,
        components=places(positions=POSITIONS),
        parameters=Parameters(blank_position_share=1.0),
    )
    found = rows(
        connection,
        "select vehicle_id, split_part(order_id, ' | ', 1), position, lines from repair order by all",
    )
    by_car = [
        (vehicle["vehicle_id"], *repair)
        for vehicle, orders in zip(vehicles, fleet, strict=True)
        for repair in repairs_by_hand(orders, vehicle["vehicle_id"])
    ]
    assert found == sorted(by_car)
    assert rows(connection, "select coalesce(sum(lines), 0)::integer from repair") == [len(repairs)]
