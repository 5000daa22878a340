"""Printed sheets of the valvetrain.

snapshot  what a setup sheet says, as plain data: this is what a sealed sheet will keep
setup     records in, snapshot out
history   what was ever out, and what was corrected
figures   the drawings of a sheet, from its snapshot
page      snapshot in, HTML and PDF out

photo_lines, photo_log, photo_page, framing, photo_tips: the same for the photo log of a job; photo_run prints it in the
background.
"""
