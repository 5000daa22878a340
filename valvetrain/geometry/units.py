"""Exact factors between the trade's units and metric ones, for floats and arrays.

All follow from two definitions, 1 in = 25.4 mm and 1 lbf = 4.4482216152605 N, both exact.
Source: NIST SP 811, appendix B.
"""

from valvetrain.geometry.guard import Numbers, require

MM_PER_INCH = 25.4
NEWTON_PER_LBF = 4.4482216152605
NEWTON_METRE_PER_LBF_FT = NEWTON_PER_LBF * 0.3048
NEWTON_METRE_PER_LBF_IN = NEWTON_PER_LBF * 0.0254
KPA_PER_PSI = NEWTON_PER_LBF / 0.0254**2 / 1000.0
NEWTON_PER_MM_PER_LBF_PER_INCH = NEWTON_PER_LBF / MM_PER_INCH


def inch_to_mm(inches: Numbers) -> Numbers:
    """Give millimetres for inches.

    Args:
        inches: What to convert [in].
    Returns:
        The same quantity [mm].
    Raises:
        GeometryError: Not a finite number.
    Notes:
        Source: NIST SP 811.
    Examples:
        >>> inch_to_mm(1.0)
        25.4
    """
    return require("figure_to_convert", inches) * MM_PER_INCH


def mm_to_inch(millimetres: Numbers) -> Numbers:
    """Give inches for millimetres.

    Args:
        millimetres: What to convert [mm].
    Returns:
        The same quantity [in].
    Raises:
        GeometryError: Not a finite number.
    Notes:
        Source: NIST SP 811.
    Examples:
        >>> mm_to_inch(25.4)
        1.0
    """
    return require("figure_to_convert", millimetres) / MM_PER_INCH


def lbf_to_newton(pounds_force: Numbers) -> Numbers:
    """Give newtons for pounds force.

    Args:
        pounds_force: What to convert [lbf].
    Returns:
        The same quantity [N].
    Raises:
        GeometryError: Not a finite number.
    Notes:
        Source: NIST SP 811.
    Examples:
        >>> lbf_to_newton(1.0)
        4.4482216152605
    """
    return require("figure_to_convert", pounds_force) * NEWTON_PER_LBF


def newton_to_lbf(newtons: Numbers) -> Numbers:
    """Give pounds-force for newtons.

    Args:
        newtons: What to convert [N].
    Returns:
        The same quantity [lbf].
    Raises:
        GeometryError: Not a finite number.
    Notes:
        Source: NIST SP 811.
    Examples:
        >>> newton_to_lbf(44.482216152605)
        10.0
    """
    return require("figure_to_convert", newtons) / NEWTON_PER_LBF


def lbf_ft_to_newton_metre(pound_feet: Numbers) -> Numbers:
    """Give newton metres for pound feet.

    Args:
        pound_feet: What to convert [lbf·ft].
    Returns:
        The same quantity [N·m].
    Raises:
        GeometryError: Not a finite number.
    Notes:
        Source: NIST SP 811.
    Examples:
        >>> lbf_ft_to_newton_metre(10.0)
        13.558179
    """
    return require("figure_to_convert", pound_feet) * NEWTON_METRE_PER_LBF_FT


def newton_metre_to_lbf_ft(newton_metres: Numbers) -> Numbers:
    """Give pound-feet for newton metres.

    Args:
        newton_metres: What to convert [N·m].
    Returns:
        The same quantity [lbf·ft].
    Raises:
        GeometryError: Not a finite number.
    Notes:
        Source: NIST SP 811.
    Examples:
        >>> newton_metre_to_lbf_ft(13.558179)
        10.0
    """
    return require("figure_to_convert", newton_metres) / NEWTON_METRE_PER_LBF_FT


def psi_to_kpa(psi: Numbers) -> Numbers:
    """Give kilopascals for psi.

    Args:
        psi: What to convert [psi].
    Returns:
        The same quantity [kPa].
    Raises:
        GeometryError: Not a finite number.
    Notes:
        Source: NIST SP 811.
    Examples:
        >>> psi_to_kpa(10.0)
        68.947573
    """
    return require("figure_to_convert", psi) * KPA_PER_PSI


def kpa_to_psi(kilopascals: Numbers) -> Numbers:
    """Give psi for kilopascals.

    Args:
        kilopascals: What to convert [kPa].
    Returns:
        The same quantity [psi].
    Raises:
        GeometryError: Not a finite number.
    Notes:
        Source: NIST SP 811.
    Examples:
        >>> kpa_to_psi(68.947573)
        10.0
    """
    return require("figure_to_convert", kilopascals) / KPA_PER_PSI


def lbf_per_inch_to_newton_per_mm(pounds_force_per_inch: Numbers) -> Numbers:
    """Give newtons per millimetre for pounds force per inch.

    Args:
        pounds_force_per_inch: What to convert [lbf/in].
    Returns:
        The same quantity [N/mm].
    Raises:
        GeometryError: Not a finite number.
    Notes:
        Source: NIST SP 811.
    Examples:
        >>> lbf_per_inch_to_newton_per_mm(100.0)
        17.512684
    """
    return require("figure_to_convert", pounds_force_per_inch) * NEWTON_PER_MM_PER_LBF_PER_INCH


def newton_per_mm_to_lbf_per_inch(newtons_per_mm: Numbers) -> Numbers:
    """Give pounds-force per inch for newtons per mm.

    Args:
        newtons_per_mm: What to convert [N/mm].
    Returns:
        The same quantity [lbf/in].
    Raises:
        GeometryError: Not a finite number.
    Notes:
        Source: NIST SP 811.
    Examples:
        >>> newton_per_mm_to_lbf_per_inch(17.512684)
        100.0
    """
    return require("figure_to_convert", newtons_per_mm) / NEWTON_PER_MM_PER_LBF_PER_INCH
