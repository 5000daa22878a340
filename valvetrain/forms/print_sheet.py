"""What is asked before a long sheet is printed in the background."""

from django import forms

from builds.printing.paper import PAPERS


class PrintSheetForm(forms.Form):
    """The paper, and the id that this page was given: pressed twice, it prints once."""

    id = forms.UUIDField(
        error_messages=dict.fromkeys(
            ("required", "invalid"), "This page did not arrive whole. Load it again, then print."
        )
    )
    paper = forms.ChoiceField(
        choices=[(name, name) for name in PAPERS],
        error_messages={
            "required": f"No paper was chosen. Choose {' or '.join(PAPERS)}.",
            "invalid_choice": f"There is no such paper here. Choose {' or '.join(PAPERS)}.",
        },
    )
