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
    """

    def __init__(self, what: str, *, where: str = "", remedy: str) -> None:
        self.what, self.where, self.remedy = what, where, remedy
        super().__init__(f"{what} ({where}). {remedy}" if where else f"{what}. {remedy}")
