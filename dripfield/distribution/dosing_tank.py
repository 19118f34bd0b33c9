"""The tank from which a field is dosed: its levels for the doses worked out, and their checks."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from dripfield.core.units import Unit
from dripfield.distribution.doses import ZoneDay
from dripfield.hydraulics.design_checks import Check
from dripfield.hydraulics.tank_levels import SwitchLevel, draw_down, switch_levels
from dripfield.hydraulics.tank_shape import TankShape, tank_shape, water, water_unit
from dripfield.site.schema.site import SiteFile

_ENTERED = "entered by the user"
_PHYSICS = "physics"
_AGREE = (0.1, 0.03)  # ft or m: a pump's level and its switch's farther apart are two things


@dataclass(frozen=True)
class DosingTank:
    """The last tank of a site, as the doses need it.

    Attributes
    ----------
    name : str
    shape : TankShape
    levels : tuple of SwitchLevel
        From the floor up.
    pumped : float
        By the greatest dose of any zone, with what drains back [gal or L].
    draws : dict of str to float or None
        How far a dose of each zone draws the water down from where it begins [site unit].
    floor : float or None
        Elevation of the inside of the floor, where the site gives enough for it.
    """

    name: str
    shape: TankShape
    levels: tuple[SwitchLevel, ...]
    pumped: float
    draws: dict[str, float | None]
    floor: float | None

    def level(self, name: str) -> SwitchLevel:
        """One of the levels ``off``, ``on``, ``override`` and ``alarm``, which are always there."""
        return next(one for one in self.levels if one.name == name)


def dosing_tank(file: SiteFile, unit: Unit, days: Sequence[ZoneDay]) -> DosingTank | None:
    """Levels of the last tank for the doses of the zones.

    Parameters
    ----------
    file : SiteFile
    unit : Unit
        Of the site.
    days : sequence of ZoneDay

    Returns
    -------
    DosingTank or None
        None for a site without tanks, or whose doses are not known.

    Raises
    ------
    InputError
        A dimension of the tank is missing.
    """
    if not file.tank or not days:
        return None
    table = file.tank[-1]
    shape = tank_shape(table)
    cubic = {day.zone: day.dosing.pumped / water(1.0, unit) for day in days}
    levels = switch_levels(shape, table.levels, table.inlet, max(cubic.values()))
    on = next(one.height for one in levels if one.name == "on")
    floor = None
    if table.top is not None and table.wall is not None:
        floor = table.top - unit.from_small(table.wall) - shape.height
    return DosingTank(
        table.name,
        shape,
        levels,
        max(day.dosing.pumped for day in days),
        {zone: None if on is None else draw_down(shape, on, dose) for zone, dose in cubic.items()},
        floor,
    )


def tank_checks(tank: DosingTank, file: SiteFile, unit: Unit) -> Iterator[Check]:
    """Whether the tank's levels hold the greatest dose, and the pump's level is its switch's.

    Parameters
    ----------
    tank : DosingTank
    file : SiteFile
    unit : Unit
        Of the site.

    Yields
    ------
    Check
    """
    off, on = tank.level("off"), tank.level("on")
    title = f"{tank.name}: a dose with what drains back, between off and on"
    need = f"at least {tank.pumped:.0f}"
    if off.entered is None or on.entered is None:
        lacks = " and ".join(one.name for one in (off, on) if one.entered is None)
        yield Check(
            title, _PHYSICS, "", need, water_unit(unit), "not proven",
            f"missing: [[tank]] levels {lacks}",
        )  # fmt: skip
    else:
        room = water(tank.shape.volume(on.entered) - tank.shape.volume(off.entered), unit)
        yield Check(
            title, _PHYSICS, f"{room:.0f}", need, water_unit(unit),
            "pass" if room >= tank.pumped * (1.0 - 1e-6) else "fail", "",
        )  # fmt: skip
    pump = file.pump.level if file.pump is not None else None
    if pump is None or tank.floor is None or off.entered is None:
        return
    stops = tank.floor + off.entered
    holds = abs(stops - pump) <= unit.default(*_AGREE)
    places = unit.places
    yield Check(
        "the pump's level is that at which its switch stops it", _ENTERED,
        f"{pump:.{places}f}", f"{stops:.{places}f}, within {unit.default(*_AGREE):g}", unit.short,
        "pass" if holds else "fail",
        "" if holds else f"correct [pump] level, or top, wall, height or off of {tank.name}",
    )  # fmt: skip
