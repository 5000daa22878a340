"""How long parts last, against data sets that a package for survival analysis ships, and its own estimate.

The remission times are those of Freireich and others (Blood 21, 1963), 6-MP arm, weeks; the printed values are those of
Kleinbaum and Klein, Survival Analysis, chapter 2.
"""

from typing import Any

import numpy as np
import pytest
from lifelines import KaplanMeierFitter
from lifelines.datasets import load_leukemia, load_waltons

from builds.survival import Survival, Units, survival

# weeks: (share in remission, at risk). Published.
PRINTED = {
    6: (0.857, 21), 7: (0.807, 17), 10: (0.753, 15), 13: (0.690, 12), 16: (0.627, 11), 22: (0.538, 7), 23: (0.448, 6),
}  # fmt: skip


def arm(treated: int) -> tuple[Any, Any]:
    """Weeks, and whether the remission ended then, of one arm: 0 is 6-MP."""
    rows = load_leukemia()
    rows = rows[rows.Rx == treated]
    return rows.t.to_numpy(float), rows.status.to_numpy(int)


def told(times: Any, ended: Any) -> Survival:
    return survival([Units(float(ran), bool(end)) for ran, end in zip(times, ended, strict=True)], "weeks")


def waltons() -> tuple[Any, Any]:
    rows = load_waltons()
    return rows["T"].to_numpy(float), rows["E"].to_numpy(int)


def test_the_published_table_of_remission_times() -> None:
    found = told(*arm(0))
    assert {step.ran: (round(step.lasting, 3), step.at_risk) for step in found.steps} == PRINTED
    assert (found.units, found.failures) == (21, 9)


def test_the_published_medians() -> None:
    """23 weeks with 6-MP, 8 with the placebo."""
    assert told(*arm(0)).median == 23
    assert told(*arm(1)).median == 8


@pytest.mark.parametrize("data", [arm(0), arm(1), waltons()], ids=["6-MP", "placebo", "waltons"])
def test_it_agrees_with_another_program(data: tuple[Any, Any]) -> None:
    """Independent method: shares, log-log interval, numbers at risk and median of lifelines' own estimate."""
    found, other = told(*data), KaplanMeierFitter().fit(*data)
    at = [step.ran for step in found.steps]
    assert at == sorted(other.event_table.index[other.event_table.observed > 0])
    theirs = other.survival_function_at_times(at).to_numpy()
    assert [step.lasting for step in found.steps] == pytest.approx(theirs, abs=1e-12)
    assert [step.at_risk for step in found.steps] == list(other.event_table.at_risk.loc[at])
    assert [step.failed for step in found.steps] == list(other.event_table.observed.loc[at])
    ends = other.confidence_interval_.loc[at].to_numpy()
    kept = [(step, row) for step, row in zip(found.steps, ends, strict=True) if step.low is not None]
    assert len(kept) >= len(at) - 1
    assert np.array([(step.low, step.high) for step, _row in kept]) == pytest.approx(
        np.array([row for _step, row in kept]), abs=1e-9
    )
    assert found.median == other.median_survival_time_


def test_a_count_of_units_is_so_many_units() -> None:
    """Independent method: the same data, one unit at a time."""
    by_one = told([6, 6, 6, 6, 7, 9], [1, 1, 1, 0, 1, 0])
    assert (
        survival([Units(6, True, 3), Units(6, False, 1), Units(7, True), Units(9, False)], "weeks") == by_one
    )
