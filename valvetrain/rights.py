"""What each address of the upper floor asks for."""

from builds.rights import Right, enter


def register_rights() -> None:
    """Enter the addresses in the book's table."""
    enter("valvetrain-panel head-detail layout-list layouts-panel gauge-list shim-list", Right.READ)
    enter("engine-packs fitted-packs bench bench-at height-budget", Right.READ)
    enter("charts chart drawing what-if what-if-drawing trial-list trial worksheet", Right.READ)
    enter("job-trends job-trend-chart", Right.READ)
    enter("survival-picture", Right.READ)
    enter("return-geometry return-valve return-photos", Right.READ)
    # Which gauge is in hand is kept for the log-in, and written in no record.
    enter("bench-way", Right.READ)

    enter("cam-card worksheet-lobe worksheet-table", Right.READ, Right.SETUP)
    enter("head-new head-edit head-remove valves-edit stand-new stand-edit stand-remove", Right.SETUP)
    enter("rocker-set-new rocker-set-edit spring-sheet-new spring-sheet-edit", Right.SETUP)
    enter("worksheet-new worksheet-edit", Right.SETUP)
    enter("copy-to-shelf layout-new gauge-new gauge-edit shim-new shim-edit", Right.SETUP)

    enter("bench-reading bench-pack bench-strike engine-pack-fit trial-keep trial-drop", Right.MEASURE)
    enter("worksheet-pair worksheet-pair-strike", Right.MEASURE)
    enter("head-marks valve-mark measure-mark", Right.READ, Right.MEASURE)
    enter("valve-slide measure-mark-work measure-mark-guess measure-mark-save", Right.MEASURE)

    enter("setup-sheet photo-log build-sheet packet", Right.PRINT)
