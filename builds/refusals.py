"""What the book refuses to write, as a sentence for the person; a form puts it beside the field that it is about."""


class Refused(ValueError):
    """Something that cannot be written: which field, a sentence with what would be right, what may have been meant."""

    def __init__(self, field_name: str, sentence: str, offers: tuple[str, ...] = ()) -> None:
        super().__init__(sentence)
        self.field_name, self.sentence, self.offers = field_name, sentence, offers

    @property
    def asking(self) -> str:
        """The sentence, with what may have been meant."""
        return f"{self.sentence} Did you mean {' or '.join(self.offers)}?" if self.offers else self.sentence
