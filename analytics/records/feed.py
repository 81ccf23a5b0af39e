"""The native feed: the declared tables that closed records arrive in."""

from __future__ import annotations

from analytics.records.table import Column, Table

ACTIONS = (
    "replaced",
    "exchanged",
    "overhauled",
    "resealed",
    "repaired",
    "adjusted",
    "cleaned",
    "refitted",
    "inspected",
    "modified",
    "none",
)
REASONS = (
    "failure",
    "found at inspection",
    "changed in passing",
    "planned",
    "consequence",
    "accident",
    "no fault found",
    "not recorded",
)
ORIGINS = ("new", "reproduction", "used", "overhauled", "owner-supplied", "unknown")


def _text(name: str, meaning: str, *, required: bool = False, values: tuple[str, ...] = ()) -> Column:
    return Column(name, "text", meaning, nullable=not required, values=values)


def _date(name: str, meaning: str, *, required: bool = False) -> Column:
    return Column(name, "date", meaning, unit="ISO 8601", nullable=not required)


def _number(name: str, meaning: str, unit: str = "", *, required: bool = False) -> Column:
    return Column(name, "number", meaning, unit=unit, nullable=not required)


def _yes_no(name: str, meaning: str) -> Column:
    return Column(name, "yes_no", meaning)


VEHICLES = Table(
    "vehicles",
    "one row per car",
    ("vehicle_id",),
    (
        _text("vehicle_id", "the car, by a word of your own", required=True),
        _text("series", "production series", required=True),
        _date("built_on", "day, month or year of building"),
        _text("serial", "chassis serial, for interchange ranges"),
        _date("left_on", "day the car left care"),
        _text("left_why", "why it left", values=("sold", "scrapped", "stored", "unknown")),
        _text("owner_key", "an opaque word for the owner, never a name"),
        Column("odometer_digits", "whole", "whole-unit digits of the odometer"),
    ),
)

REPAIRS = Table(
    "repairs",
    "one row per line of a closed job",
    ("record_id", "line_no"),
    (
        _text("record_id", "number of the job", required=True),
        Column("line_no", "whole", "line of the job", nullable=False, default=1),
        _text("vehicle_id", "the car", required=True),
        _date("opened_on", "day the car came in"),
        _date("closed_on", "day the job was closed", required=True),
        _number("odometer", "odometer on arrival", "odometer_unit"),
        _text("odometer_unit", "unit of the odometer", values=("km", "mi")),
        _text("symptom", "complaint in the owner's words"),
        _yes_no("came_for", "this line is why the car came"),
        _text("component", "kind of part concerned"),
        _text("position", "slot on the car"),
        _text("location", "where on the car the fault showed"),
        _text("finding", "what was found"),
        _text("cause", "why it happened"),
        _text("action", "what was done", values=ACTIONS),
        _text("reason", "why it was done", values=REASONS),
        _text("part_no", "part fitted"),
        _text("removed_part_no", "part taken out"),
        _text("part_origin", "where the fitted part came from", values=ORIGINS),
        _text("fitted_instead_of", "part that was out of stock"),
        _number("quantity", "parts used", "as the part's unit"),
        _number("labour_minutes", "labour", "minutes"),
        _number("cost", "cost of the line", "currency"),
        _text("currency", "ISO 4217 code"),
        _number("measured", "reading taken at the check", "measured_unit"),
        _text("measured_unit", "unit of the reading"),
        _text("note", "free text; enters no snapshot"),
    ),
)

READINGS = Table(
    "readings",
    "one row per odometer reading outside jobs",
    ("vehicle_id", "read_on"),
    (
        _text("vehicle_id", "the car", required=True),
        _date("read_on", "day of the reading", required=True),
        _number("odometer", "odometer", "odometer_unit", required=True),
        _text("odometer_unit", "unit of the odometer", values=("km", "mi")),
        _text("source", "how it was read", values=("visit", "inspection", "annual return")),
    ),
)

COMPONENTS = Table(
    "components",
    "one row per component, position and range of cars",
    ("component", "position", "series", "serial_from"),
    (
        _text("component", "kind of part", required=True),
        _text("position", "slot on the car"),
        _text("series", "series that has it, empty = all"),
        _text("serial_from", "first serial, empty = all"),
        _text("serial_to", "last serial, empty = all"),
        _text("system", "system it belongs to", required=True),
        _text("location", "usual place"),
        _text("family", "family for pooling"),
        _text("renewed_by", "further renewing actions, with ;"),
        _yes_no("seen_at_service", "looked at on every service"),
        _yes_no("safety_critical", "no remaining life is shown"),
        _number("check_minutes", "time to check it once it can be reached", "minutes"),
        _text("may_harm", "components that its failure may harm, with ;"),
    ),
)

LOCATIONS = Table(
    "locations",
    "one row per place on the car",
    ("location",),
    (
        _text("location", "the place", required=True),
        _text("parent", "the place it is part of"),
        _text("name", "words for people"),
        _number("x", "plan view, 0 = the car's left", "0-1"),
        _number("y", "plan view, 0 = nose", "0-1"),
        _text("deck", "seen from above or below", values=("above", "below")),
        _number("access_minutes", "time to open it up for checks and close it again", "minutes"),
    ),
)

PARTS = Table(
    "parts",
    "one row per part number and place it fits",
    ("part_no", "component", "position", "series", "serial_from"),
    (
        _text("part_no", "part number", required=True),
        _text("component", "kind of part", required=True),
        _text("position", "slot it fits, empty = all"),
        _text("series", "series it fits, empty = all"),
        _text("serial_from", "first serial, empty = all"),
        _text("serial_to", "last serial, empty = all"),
        _text("variant", "the design; empty = the part number"),
        _text("unit", "unit of sale", values=("each", "pair", "set", "metre", "litre")),
        Column("covers_positions", "whole", "positions one part serves", default=1),
        _text("superseded_by", "part number that replaces it"),
        _text("looks_like", "looks the same, does not interchange, with ;"),
        _text("supplier", "supplier"),
        _number("lead_time_days", "median lead time", "days"),
        _number("lead_time_p90_days", "lead time not exceeded in 9 of 10 orders", "days"),
        _number("unit_cost", "cost of one", "currency"),
        _text("currency", "ISO 4217 code"),
        Column("pack_size", "whole", "parts in a pack"),
        Column("minimum_order", "whole", "smallest order"),
        _number("shelf_life_months", "usable time on the shelf", "months"),
        _date("last_order_on", "last day to order it, where its supply ends"),
        _number("pledged", "parts of a new batch promised to buyers whose cars are not in care", "as the part's unit"),
        _number("pledged_in_care", "parts of it promised to buyers whose cars are in care", "as the part's unit"),
        _text("basis", "rate = foretell it by its rate of use alone", values=("rate",)),
    ),
)

STOCK = Table(
    "stock",
    "one row per count of a batch",
    ("part_no", "counted_on", "made_on"),
    (
        _text("part_no", "part number", required=True),
        _date("counted_on", "day of the count", required=True),
        _number("on_hand", "parts on the shelf", "as the part's unit", required=True),
        _number("reserved", "parts reserved for booked jobs", "as the part's unit"),
        _number("on_order", "parts on order", "as the part's unit"),
        _date("on_order_due", "day they are due"),
        _date("made_on", "day the batch was made"),
    ),
)

SALES = Table(
    "sales",
    "one row per sale over the counter",
    ("part_no", "sold_on", "vehicle_id", "quantity", "lost"),
    (
        _text("part_no", "part number", required=True),
        _date("sold_on", "day of the sale", required=True),
        _number("quantity", "parts sold", "as the part's unit", required=True),
        _text("vehicle_id", "the car, where known"),
        _yes_no("lost", "asked for, not in stock"),
    ),
)

FITTED = Table(
    "fitted",
    "one row per fitting told by an owner's papers",
    ("vehicle_id", "component", "position", "fitted_from"),
    (
        _text("vehicle_id", "the car", required=True),
        _text("component", "kind of part", required=True),
        _text("position", "slot on the car"),
        _date("fitted_from", "fitted on this day or later", required=True),
        _date("fitted_to", "fitted on this day or before; empty = on fitted_from"),
        _text("part_no", "part fitted"),
    ),
)

LIMITS = Table(
    "limits",
    "one row per limit of a reading taken at checks",
    ("component", "measured_unit"),
    (
        _text("component", "kind of part", required=True),
        _text("measured_unit", "unit of the reading", required=True),
        _number("lower", "least good reading", "measured_unit"),
        _number("upper", "greatest good reading", "measured_unit"),
        _text("source", "who says so"),
    ),
)

OPINIONS = Table(
    "opinions",
    "one row per component of which somebody has an opinion",
    ("component",),
    (
        _text("component", "kind of part", required=True),
        _number("first_years", "age asked at first", "years since fitted", required=True),
        _number("first_good", "of 10 newly fitted, still good at that age", "of 10", required=True),
        _number("second_years", "a later age", "years since fitted", required=True),
        _number("second_good", "of 10, still good at the later age", "of 10", required=True),
        _number("cars", "how many cars the opinion is worth", "cars", required=True),
        _text("source", "whose opinion, as an opaque word, never a name"),
    ),
)

FEED: dict[str, Table] = {
    table.name: table
    for table in (VEHICLES, REPAIRS, READINGS, COMPONENTS, LOCATIONS, PARTS, STOCK, SALES, FITTED, LIMITS, OPINIONS)
}
"""The native tables by name; only ``vehicles`` and ``repairs`` are needed."""
