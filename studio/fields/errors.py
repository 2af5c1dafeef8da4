"""What an operation raises when it will not do what was asked."""


class Refused(Exception):
    """A sentence for the person at the screen: what is wrong and what to do about it.

    `field` names the input the sentence belongs beside, `code` is for callers that react to one refusal.
    Nothing was stored when it is raised.
    """

    def __init__(self, message: str, *, field: str | None = None, code: str | None = None) -> None:
        super().__init__(message)
        self.message = message
        self.field = field
        self.code = code
