"""What the book refuses to write, as a sentence for the person; a form puts it beside the field that it is about."""


class Refused(ValueError):
    """Something that cannot be written: which field, and a sentence with what would be right."""

    def __init__(self, field_name: str, sentence: str) -> None:
        super().__init__(sentence)
        self.field_name, self.sentence = field_name, sentence
