"""Which edition of the slowly changing records this is."""

from django.db import models


class Edition(models.Model):
    """One row with a token that the database itself changes whenever a watched table is written. See `editions`."""

    token = models.CharField(max_length=40)

    def __str__(self) -> str:
        return self.token
