"""Line drawings from the real numbers: the arm on its stand, the tip with its mark, the travel through the lift.

numbers  what a drawing is made from: plain numbers of one valve
style    lines, lettering and dimensions as on an inspection drawing; writing the SVG
arm      the arm at closed, half and full lift
tip      the tip with its mark, one large or a whole row
travel   contact against lift
plot     the frame that all charts share
ratio    ratio through the lift
spring   spring load against height, with what is left before the coils touch
load     load at the tip through the lift, by speed
residuals  each valve's height error along the head
packmap  the stands of an engine in plan with their packs
gathered, worked  from a job's records to the charts' numbers

Each figure has a layout (coordinates from the geometry service, in inches) and a drawing made from it. Told apart by
weight and dash of line, never by colour. The same numbers give the same bytes.
A chart has a table of the figures behind it, for those who cannot see it.
"""
