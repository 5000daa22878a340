"""The short block's figures: displacement and compression."""

from decimal import Decimal

import pytest

from builds.shortblock import (
    clearance_volume,
    compression_ratio,
    displacement,
    piston_clearance,
    swept_volume,
)

CC_PER_CUBIC_INCH = 16.387064  # exact: NIST SP 811

# Round numbers, so that a pencil follows: bore 4, stroke 3.5, gasket 4.1 x .040, deck .005, dish 6 cc, chamber 64 cc.
ENGINE = {
    "bore": Decimal(4), "stroke": Decimal("3.5"), "cylinders": Decimal(8), "chamber_volume": Decimal(64),
    "crown_volume": Decimal(-6), "gasket_bore": Decimal("4.1"), "gasket_thickness": Decimal("0.04"),
    "deck_clearance": Decimal("0.005"),
}  # fmt: skip


def test_displacement_as_in_navedtra_14264():
    """Published: NAVEDTRA 14264, chapter 2: bore 3.5, stroke 4 in, 38.43 in³ a cylinder and 307.44 for eight."""
    values = {"bore": Decimal("3.5"), "stroke": Decimal(4), "cylinders": Decimal(8)}
    assert float(swept_volume(values)) / CC_PER_CUBIC_INCH == pytest.approx(38.43, rel=0.002)
    assert float(displacement(values)) / CC_PER_CUBIC_INCH == pytest.approx(307.44, rel=0.002)


def test_compression_as_worked_by_hand():
    """Hand-worked: swept 43.9823 in³ = 720.740 cc; gasket 8.6540, deck 1.0296; clearance 64 + 8.6540 + 1.0296 + 6."""
    assert float(swept_volume(ENGINE)) == pytest.approx(720.740, abs=0.001)
    assert float(clearance_volume(ENGINE)) == pytest.approx(79.6836, abs=0.0005)
    assert float(compression_ratio(ENGINE) or 0) == pytest.approx(10.045, abs=0.0005)


def test_a_dome_raises_compression_and_a_dish_lowers_it():
    dome = {**ENGINE, "crown_volume": Decimal(6)}
    flat = {**ENGINE, "crown_volume": Decimal(0)}
    assert compression_ratio(dome) > compression_ratio(flat) > compression_ratio(ENGINE)


def test_a_piston_proud_of_the_deck_takes_volume_away():
    proud = {**ENGINE, "deck_clearance": Decimal("-0.005")}
    assert clearance_volume(proud) < clearance_volume(ENGINE)


def test_a_crown_that_leaves_no_room_gives_no_ratio():
    """Both sides of the edge: 64 + 9.6836 cc above a crown of 73 leave a little, under one of 74 nothing."""
    assert compression_ratio({**ENGINE, "crown_volume": Decimal(73)}) is not None
    assert compression_ratio({**ENGINE, "crown_volume": Decimal(74)}) is None


def test_piston_clearance_is_on_the_diameter():
    """Hand-worked."""
    values = {"bore": Decimal("4.0300"), "piston_diameter": Decimal("4.0255")}
    assert piston_clearance(values) == Decimal("0.0045")
