"""What the arithmetic says when it refuses. Each message is a sentence for the animator."""


class TimingError(ValueError):
    """A time, rate, curve or tapping that cannot be. ``sentence`` says why and what to do."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


class PlanError(TimingError):
    """A plan that cannot be read or cannot be.

    ``line`` and ``column`` count from 1 in the text, CSV or list of actions that was given;
    0 stands for "the plan as a whole".
    """

    def __init__(self, sentence: str, line: int = 0, column: int = 0) -> None:
        super().__init__(sentence)
        self.line = line
        self.column = column

    def at(self, line: int, column: int = 0) -> "PlanError":
        """The same complaint with its place filled in, unless it already has one."""
        return PlanError(self.sentence, self.line or line, self.column or column)


class TableError(TimingError):
    """A tapping from which no scale can be had."""
