"""What the athlete told of the columns of one kind of text file, for the next file of that kind."""

from django.db import models

from trainlog.models.owned import Owned


class TextLayout(Owned):
    """Columns of text files with one header."""

    key = models.CharField(max_length=64, help_text="Same for all files with the same header.")
    columns = models.JSONField(default=dict)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["owner", "key"], name="one_layout_a_header")]

    def __str__(self) -> str:
        return ", ".join(f"{name} in {column}" for name, column in self.columns.items())
