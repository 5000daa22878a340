"""The one way in which the geometry says no."""


class GeometryError(ValueError):
    """A number, or a set of them, that no valvetrain can have.

    Args:
        what: What is wrong, with the number in its unit [-].
        where: Name of the argument at fault, so that a form can point at its field [-].
        right: What would be right [-].
    Notes:
        ``str()`` of the error is one sentence for the bench: what, then what would be right.
    Examples:
        >>> str(GeometryError("net lift is 0 in", where="lift", right="give a lift above zero"))
        'net lift is 0 in: give a lift above zero'
    """

    def __init__(self, what: str, *, where: str = "", right: str = "") -> None:
        self.what = what
        self.where = where
        self.right = right
        super().__init__(f"{what}: {right}" if right else what)
