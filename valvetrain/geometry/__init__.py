"""The geometry service: pure functions on numbers, without Django and without input or output.

Modules, lowest first:

errors       GeometryError, the one refusal, with a sentence for the bench
guard        what every quantity may be; the check each public function makes first
units        exact factors between the trade's units and metric ones
arm          the rocker arm and its angle
height       where the shaft should stand, what a gauge should read, what pack makes it so
travel       where the roller runs on the tip, how wide a mark that leaves, and what a mark says
centring     how to slide a stand so that the mark is centred; height from where the contact stands
ellipse      the ellipse as which a round rim is seen, by direct and by least-distance fit
rim          the rim of a tip, through taps on it
mark_reading   a mark's figures from a rim and two edges in the picture, and how well they are known
viewpoint    where a camera may have stood over a tip, and what that does to the picture
mark         the mark measured on a picture of the tip, from taps
mark_in_picture  between a measured tip and its picture: points and the mark's edges
drawer       every thickness a drawer of shims can make, and the nearest to one wanted
packs        the shims under each stand, out of the drawer
engine_stands  a stand among the others of its engine: pads and valves along a rigid bar
shared_drawer  the drawer that all stands of an engine share, in whole units
stand_block  one stand as the program sees it, and what it could have from the drawer alone
program_rows  rows of an integer program, as the solver takes them
pack_program  the integer program behind the packs of a whole engine
pack_search  one rule of the choice after another, each with its proof
pack_shopping  what to add to the drawer when it cannot do it
engine_packs  all packs of an engine at once, out of the drawer that its stands share
engagement   the thread a pack leaves in the head
cam          card arithmetic, and whether a card agrees with itself
linkage      from lifter travel to valve lift through the pushrod; pushrod lengths
pushrod      what a pushrod's ends take from its measured length; the ratio that readings show
lifter       where the lifter stands, from a checking pushrod's length and lean
lobe         a lobe's lift by crank angle, through a card's points
lobe_table   a lobe through a table of lift by crank angle
loads        loads at tip and shaft, pressure in the contact; a worksheet
motion       the valve's motion at speed, and whether the spring can follow
springs      rate, loads and heights, coil-bind margin, springs in springs
spring_wire  what a spring's wire says of it
firing       the firing order and the companions in it
lash         the order in which lash is set, lash against the card
engine_block  displacement, compression ratio, clearances on the diameter, piston speed
estimates    how well a value is known that was read
uncertainty  how well a result is known that was worked out, and where that comes from
judging      what may be said of a value against its limits
piston       where the piston stands, and how near the valve comes to it
drift        a robust line through readings against running, and where it leaves a limit

Inches, pounds-force and degrees throughout; lengths may be in any one unit as long as all are.
Names, symbols and signs are those of the glossary in DEVELOPERS.md. Functions take floats or
numpy arrays and broadcast; they give a float for floats.
"""

# A sealed sheet records which formulas made its numbers: raise this when any answer changes.
GEOMETRY_VERSION = "1"
