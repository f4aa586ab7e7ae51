"""How heavy a full form is."""

from __future__ import annotations

from analysis.checks import number

# Ordinary concrete, 2,400 kg/m3: common practice.
CONCRETE_KG_PER_L = 2.4
# Load constant of the NIOSH lifting equation: where its sum begins, for an ideal lift
# close to the body. Every real lift comes out lower, so it permits nothing: more than
# this is too much for one person in any case.
IDEAL_LIFT_KG = 23.0
LARGEST_L = 100_000.0


def concrete_kg(volume_l: float) -> float:
    """Return what a form's concrete weighs, the form not counted.

    Parameters
    ----------
    volume_l : float
        Litres of concrete it holds, above 0.

    Returns
    -------
    float
        kg.

    Raises
    ------
    InputError
        The volume is not above 0, or beyond `LARGEST_L`.

    Examples
    --------
    >>> concrete_kg(10), concrete_kg(10) > IDEAL_LIFT_KG
    (24.0, True)
    """
    litres = number(
        volume_l, "Concrete a form holds", above=0, high=LARGEST_L, unit="l"
    )
    return CONCRETE_KG_PER_L * litres
