"""Cautions per system: what is dangerous, one thing never to do, and who decides instead of us."""

from __future__ import annotations

from dataclasses import dataclass

from analytics.safety import SIGNS, has_sign, sign_in

DEFER = "Follow the maker's manual and local rules; have a qualified person do it."
"""Every caution ends with this: the tool gives no procedure."""

SAFETY = (
    f"Safety-critical: nothing here allows such a part to run any longer. Inspect it by the maker's manual. {DEFER}"
)
"""Said of every component flagged as safety-critical, whatever its system."""

BY_NAME = "Taken as safety-critical by its name{}; the components table can say otherwise: safety_critical = no."
"""Said where nobody stated it, with the word that did it, so that whoever knows better can."""


@dataclass(frozen=True, slots=True)
class Caution:
    """One system's caution.

    Attributes
    ----------
    signs
        Beginnings of words, in lower case, by which a component or system is recognised; those of a system that is
        critical for safety come from the one list that also decides it.
    danger
        What is dangerous.
    never
        One thing never to do.
    """

    signs: tuple[str, ...]
    danger: str
    never: str

    @property
    def text(self) -> str:
        """The whole caution in one line."""
        return f"{self.danger}: {self.never}. {DEFER}"


CAUTIONS = (
    Caution(
        SIGNS["brakes"],
        "Brakes stop the car",
        "never renew one side of an axle alone, mix fluids or blow out dust, which may hold asbestos",
    ),
    Caution(
        SIGNS["fuel"],
        "Fuel vapour ignites",
        "never open the fuel system near sparks or a hot engine; old hoses may not stand today's fuel",
    ),
    Caution(
        SIGNS["hydraulic pressure"],
        "Stored gas and fluid pressure injures through the skin",
        "never open, heat, weld or drill it under pressure",
    ),
    Caution(
        (*SIGNS["battery"], "charging", "alternator", "dynamo", "starter"),
        "A battery gives off gas that explodes and current that burns",
        "never make sparks near it or guess its polarity; some old cars have the positive pole on earth",
    ),
    Caution(
        ("cool", "radiator", "thermostat", "water pump", "heater"),
        "Hot coolant stands under pressure and scalds",
        "never open a hot system",
    ),
    Caution(
        SIGNS["springs and suspension"],
        "A compressed spring stores great force, one of the suspension that of the car's weight",
        "never release one without the proper compressor",
    ),
    Caution(
        SIGNS["shared vacuum"],
        "The brake servo may share this vacuum",
        "never drive on with a leak that could reach it; treat it as a fault of the brakes",
    ),
    Caution(
        SIGNS["airbags and belts"],
        "An airbag or belt pretensioner is a charge that fires",
        "never unplug, measure or store one without training",
    ),
    Caution(
        ("ignition", "coil", "distributor", "trigger", "spark"),
        "Ignition voltage can kill",
        "never touch leads or coil while the engine turns",
    ),
    Caution(
        ("exhaust", "manifold", "weld"),
        "Exhaust gas poisons unseen, and hot work sets trim and underseal alight",
        "never run an engine indoors",
    ),
    Caution(
        (*SIGNS["steering and wheels"], "wheel"),
        "Steering and wheels keep the car on the road",
        "never drive on with play that was found and left",
    ),
    Caution(
        (*SIGNS["lifting points"], "jack", "underbody"),
        "A car on a jack alone falls, and old lifting points may have rusted",
        "never lie under a car that does not stand on rated stands on level, hard ground",
    ),
    Caution(
        ("gasket", "clutch", "lining", "mercury", "refrigerant", "air conditioning"),
        "Parts of this age may hold asbestos, mercury, lead or refrigerant",
        "never sand, blow out or vent them",
    ),
)
"""In the order in which they are shown."""


def cautions(*names: str | None, safety: bool = False, by_name: bool = False) -> tuple[str, ...]:
    """Return the cautions that concern a component.

    Parameters
    ----------
    *names
        Component, system or part, as the records call them; a caution too many is better than one too few.
    safety
        Whether the component is safety-critical.
    by_name
        Whether it is so by its name alone, which is then said.

    Returns
    -------
    tuple[str, ...]
        At most three texts, the flag's own first.

    Examples
    --------
    >>> len(cautions("Fuel hose", safety=True))
    2
    """
    said = " ".join(name for name in names if name)
    found = [c.text for c in CAUTIONS if has_sign(said, c.signs)]
    sign = sign_in(*names)
    told = BY_NAME.format(f", for “{sign}”" if sign else "")
    flag = [f"{SAFETY} {told}" if by_name else SAFETY] if safety else []
    return tuple(flag + found)[:3]
