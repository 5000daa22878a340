"""Rows of one form that are held against each other as a whole."""

from builds.forms.base import BookForm


class RowForm(BookForm):
    """One row of several that are held against each other as a whole: two may swap their names in one go."""

    def validate_unique(self) -> None:
        """The rows as a whole say it, in the shop's words."""

    def validate_constraints(self) -> None:
        """As above."""
