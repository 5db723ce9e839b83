"""Which way something turns, said as the eye sees it."""

from __future__ import annotations


def other_way(rotation: str) -> str:
    """Give the opposite way.

    Parameters
    ----------
    rotation : str
        One way, as the eye sees it from above.
    """
    return "anticlockwise" if rotation == "clockwise" else "clockwise"


def way_of(rotation: str, move_deg: float) -> str:
    """Say which way a move goes as the eye sees it; it is positive in the direction of rotation.

    Parameters
    ----------
    rotation : str
        Which way the rotor turns, as the eye sees it from above.
    move_deg : float
        The move [deg], positive in the direction of rotation.

    Examples
    --------
    >>> way_of("clockwise", -2.0), way_of("clockwise", 2.0)
    ('anticlockwise seen from above, against the rotor', 'clockwise seen from above, the way the rotor turns')
    """
    if move_deg > 0.0:
        return f"{rotation} seen from above, the way the rotor turns"
    return f"{other_way(rotation)} seen from above, against the rotor"
