"""Repairs that came back, once more in plain Python: one repair after the other, day by day and km by km (rule 37)."""

from __future__ import annotations

from datetime import timedelta

CARRY_ON_DAYS = int(24 * 365.25 / 12)


def rows_of(connection, name):
    relation = connection.table(name)
    return [dict(zip(relation.columns, row, strict=True)) for row in relation.fetchall()]


class Roads:
    """Total km of every car on a day, and as stated on an order, from the figures that were judged good."""

    def __init__(self, connection, exposure):
        order_of = {line["line_id"]: line["order_id"] for line in rows_of(connection, "line")}
        self.points, self.stated, self.cars = {}, {}, {}
        for row in exposure.reading.to_dicts():
            if row["total_km"] is None:
                continue
            order = order_of.get(row["seen_at"])
            if order:
                self.stated[order] = max(self.stated.get(order, 0), round(row["total_km"]))
            if not row["verdict"].startswith("used: "):
                days = self.points.setdefault(row["vehicle_id"], {})
                days[row["read_on"]] = max(days.get(row["read_on"], 0), round(row["total_km"]))
        for days in self.points.values():
            most = 0
            for day in sorted(days):
                most = days[day] = max(most, days[day])
        for row in exposure.vehicle.to_dicts():
            self.cars[row["vehicle_id"]] = row

    def km(self, car, day):
        days = sorted(self.points.get(car, {}).items())
        earlier = [point for point in days if point[0] <= day]
        later = [point for point in days if point[0] >= day]
        if earlier and later:
            (a, km_a), (b, km_b) = earlier[-1], later[0]
            return km_a if a == b else round(km_a + (km_b - km_a) * (day - a).days / (b - a).days)
        if earlier:
            ahead, rate = (day - earlier[-1][0]).days, self.cars[car]["km_per_year"]
            return (
                round(earlier[-1][1] + rate * ahead / 365.25) if ahead <= CARRY_ON_DAYS and rate is not None else None
            )
        known = self.cars[car]
        return 0 if known["trusted"] and known["built_on"] == day else None

    def of_order(self, repair, day):
        return self.stated.get(repair["order_id"], self.km(repair["vehicle_id"], repair[day]))


class Story:
    """What one ledger tells of its repairs, and whether each came back within so many days and km."""

    def __init__(self, connection, exposure, as_of, days, km):
        self.roads, self.as_of, self.days, self.km = Roads(connection, exposure), as_of, days, km
        self.repairs = [row for row in rows_of(connection, "repair") if row["lines"] > 0]
        order_of = {line["line_id"]: line["order_id"] for line in rows_of(connection, "line")}
        self.vague = {order_of.get(row["line_id"]) for row in rows_of(connection, "repair_line") if _is_vague(row)}
        places = rows_of(connection, "line_place")
        order_ids = {line["order_no"]: line["order_id"] for line in rows_of(connection, "line")}
        self.named = {(order_ids[p["order_no"]], p["component"], p["position"]) for p in places}
        self.positions = {slot["slot_no"]: slot["positions"] for slot in rows_of(connection, "slot")}
        self.left = {car["vehicle_id"]: car["left_on"] for car in rows_of(connection, "car")}

    def due(self, repair):
        return repair["order_to"] + timedelta(self.days)

    def blank(self, repair):
        if repair["slot_no"] is None:
            return repair["position"] == "only"
        told = (repair["order_id"], repair["component"], repair["position"]) in self.named
        return self.positions[repair["slot_no"]] > 1 and not told

    def why_none(self, repair):
        gone = self.left[repair["vehicle_id"]]
        if repair["action"] in ("inspected", "none"):
            return "nothing was done to it"
        if repair["action"] in ("replaced", "exchanged") and not repair["renews"]:
            return "nothing was done to it"
        if repair["order_id"] in self.vague:
            return "its day is not known"
        if gone is not None and gone < self.due(repair):
            return "the car left before"
        return "not long enough ago" if self.due(repair) > self.as_of else None

    def days_watched(self, repair):
        car = repair["vehicle_id"]
        began, ends = self.roads.km(car, repair["order_to"]), self.roads.km(car, self.due(repair))
        if None in (began, ends):
            return self.days
        return max(1, min(self.days, int(self.days * self.km / max(ends - began, 1))))

    def brings_back(self, repair, other):
        same = all(other[name] == repair[name] for name in ("vehicle_id", "component"))
        place = other["position"] == repair["position"] or self.blank(other) or self.blank(repair)
        after = repair["order_to"] < other["fault_on"] <= self.due(repair) and other["visit_id"] != repair["visit_id"]
        return same and place and after and other["reads_as"] == "failure" and other["order_id"] not in self.vague

    def returned(self, repair):
        told = []
        for other in filter(lambda other: self.brings_back(repair, other), self.repairs):
            then, now = self.roads.of_order(repair, "order_to"), self.roads.of_order(other, "fault_on")
            driven = now - then if None not in (then, now) and now >= then else None
            if driven is None or driven <= self.km:
                told.append(((other["fault_on"] - repair["order_to"]).days, other["line_id"], driven))
        return min(told, key=lambda each: each[:2], default=(None, None, None))


def came_back(connection, exposure, as_of, days, km):
    """Return by record: why it is not watched, days watched; days until the return, its record, km until then."""
    story = Story(connection, exposure, as_of, days, km)
    found = {}
    for repair in story.repairs:
        why = story.why_none(repair)
        back = story.returned(repair) if why is None else (None, None, None)
        found[repair["line_id"], repair["component"], repair["position"]] = (why, story.days_watched(repair), *back)
    return found


def _is_vague(line):
    return any(name in (line["inferred"] or "") for name in ("closed_on", "opened_on"))
