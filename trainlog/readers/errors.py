"""The one exception by which a reader refuses a file."""


class UnreadableFile(Exception):
    """A file that cannot become a trace.

    Parameters
    ----------
    what : str
        What is wrong, in one sentence for the athlete.
    where : str
        Place in the file ("line 12", "byte 4711"); empty when the whole file is meant.
    remedy : str
        What the athlete can do about it.
    asks_for : str
        What would make the file readable, if it were told: "start", "columns", or empty for nothing.
    """

    def __init__(self, what: str, *, where: str = "", remedy: str, asks_for: str = "") -> None:
        self.what, self.where, self.remedy, self.asks_for = what, where, remedy, asks_for
        super().__init__(f"{what} ({where}). {remedy}" if where else f"{what}. {remedy}")
