"""What nobody is asked when a mark is measured on its picture, and how it is allowed for."""

from valvetrain.geometry.rim import USUAL_SCATTER, Rim

# The least distance of the camera [tip diameters], about 5 in; and how far below the face the rim that was tapped may
# lie [in, standard]: an edge is always broken a little.
NEAREST_CAMERA = 15.0
BROKEN_EDGE = 0.002
# Points that lie on one ellipse to within this part of its radius were laid there by the first guess and moved by
# nobody: that they agree says nothing of how well they lie. They are taken as so many usual taps off.
LAID_OUT, LAID_OUT_OFF = 2.5e-4, 3.0


def pixel_of(rim: Rim, pixel: float) -> float:
    """The size of a pixel [px] that stands for how well these points lie, a guess that nobody moved among them."""
    laid_out = rim.scatter is not None and rim.scatter < LAID_OUT * rim.semi_major
    return max(pixel, LAID_OUT_OFF * USUAL_SCATTER * rim.semi_major) if laid_out else pixel
