"""The form of a rule by which the shop looks again at what is out."""

from builds.forms.base import BookForm
from builds.models import CheckRule


class CheckRuleForm(BookForm):
    """How soon and how often a thing is looked at, and where that comes from."""

    class Meta:
        model = CheckRule
        fields = ["first_after", "every", "in_use", "source"]
        help_texts = {
            "first_after": "The first look after the engine left. Empty: as often as all others.",
            "every": "Running from one look to the next.",
            "in_use": "Not ticked: nobody is asked for this.",
            "source": "The shop’s own setting, a parts maker’s sheet with its date, the class’s rules.",
        }
