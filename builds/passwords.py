"""What a new password must be, in the book's own words."""

from django.contrib.auth import password_validation


class LongEnough(password_validation.MinimumLengthValidator):
    """A password of so many characters or more."""

    def get_error_message(self) -> str:
        """Why a password is refused."""
        return f"This password is too short. Use {self.min_length} characters or more: a few words are easy to keep."

    def get_help_text(self) -> str:
        """What is asked."""
        return f"{self.min_length} characters or more; a few words are easy to keep."


class NotLikeTheName(password_validation.UserAttributeSimilarityValidator):
    """A password that is not the person's own name in other letters."""

    def get_error_message(self) -> str:
        """Why a password is refused."""
        return (
            "This password is too much like the person’s own name. Use words that have nothing to do with it."
        )

    def get_help_text(self) -> str:
        """What is asked."""
        return "Not the name."


class NotCommon(password_validation.CommonPasswordValidator):
    """A password that does not stand in every list of passwords."""

    def get_error_message(self) -> str:
        """Why a password is refused."""
        return (
            "This password is one that everybody tries first. Use a few words that are not usually together."
        )

    def get_help_text(self) -> str:
        """What is asked."""
        return "Not one that everybody tries first."
