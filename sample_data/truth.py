"""What is true of the invented records: laws, planted facts, event counts, and every line made dirty."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pathlib import Path

TRUTH_FILE = "truth.json"


@dataclass(frozen=True, slots=True)
class TrueLaw:
    """Life law of the units of a component, or of one of its designs.

    Attributes
    ----------
    code, component, variant
        Short word of the catalogue; name in the feed; part number whose law this is, or ``all``.
    scale
        ``age``, ``distance``, ``mixed`` (age and distance multiplied, theta 0.5) or ``never``.
    shape
        Weibull shape.
    median_years, median_km
        Median life; None where the scale does not use it.
    silent_share
        Share of the faults nobody notices before someone looks; only cars that come to services. 0-1.
    failures, recorded
        Faults that happened in care, and of them those told by lines of the feed that are not refused.
    """

    code: str
    component: str
    variant: str
    scale: str
    shape: float
    median_years: float | None
    median_km: float | None
    silent_share: float
    failures: int
    recorded: int


@dataclass(frozen=True, slots=True)
class TrueCar:
    """What is true of one car. Days are ISO 8601; `left` is None if it is still in care at the end.

    `seen` tells whether it is in the feed at all; `odometer` is ``plain``, ``unit switched``, ``rolled over`` or
    ``instrument changed``, from the day `odometer_from` on.
    """

    vehicle_id: str
    series: str
    serial: str
    built: str
    joined: str
    left: str | None
    from_start: bool
    regime: str
    vanishes: bool
    lay_up: bool
    km_per_year: int
    km_at_joining: int
    odometer: str
    odometer_from: str | None
    seen: bool


@dataclass(frozen=True, slots=True)
class Dirty:
    """One value made dirty: where it stands, what kind of dirt it is, what is written and what is true."""

    table: str
    record_id: str
    line_no: int
    column: str
    kind: str
    written: str
    true: str


@dataclass(frozen=True, slots=True)
class Truth:
    """Everything the generator knows about a feed that it wrote.

    Attributes
    ----------
    seed, first_day, last_day, years, cars_in_care
        What it was asked for; the archive runs from the first to the last day, both included.
    counts
        Rows per feed table; cars, orders, lines, cars ever in care.
    laws, cars
        Life laws per component and design; all cars.
    planted
        The planted truths by a short name: what was planted, and what is in the data.
    expected_quarantined, quarantined
        How many lines a ledger must refuse in all, and by kind.
    expected_set_aside, set_aside
        How many values must be set aside alone, and by kind.
    inferred
        How many values a reader must fill in and mark, by kind.
    dirty
        Every value made dirty.
    """

    seed: int
    first_day: str
    last_day: str
    years: int
    cars_in_care: int
    counts: dict[str, int]
    laws: tuple[TrueLaw, ...]
    cars: tuple[TrueCar, ...]
    planted: dict[str, dict[str, Any]]
    expected_quarantined: int
    quarantined: dict[str, int]
    expected_set_aside: int
    set_aside: dict[str, int]
    inferred: dict[str, int]
    dirty: tuple[Dirty, ...]

    def write(self, path: Path) -> None:
        """Write the truth as JSON text."""
        path.write_text(json.dumps(asdict(self), indent=1, ensure_ascii=False) + "\n", encoding="utf-8")

    @classmethod
    def read(cls, path: Path) -> Truth:
        """Read a truth that `write` has written."""
        raw = json.loads(path.read_text(encoding="utf-8"))
        raw["laws"] = tuple(TrueLaw(**law) for law in raw["laws"])
        raw["cars"] = tuple(TrueCar(**car) for car in raw["cars"])
        raw["dirty"] = tuple(Dirty(**dirty) for dirty in raw["dirty"])
        return cls(**raw)

    def law(self, code: str, variant: str = "all") -> TrueLaw:
        """Return the law of a component by the short word of the catalogue.

        Raises
        ------
        KeyError
            If there is none.
        """
        for law in self.laws:
            if law.code == code and law.variant == variant:
                return law
        raise KeyError((code, variant))
