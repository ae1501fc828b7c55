"""How long to wait before what failed is tried again: longer each time."""


class Pauses:
    """Growing pauses: *first_s*, twice that, and so on, never more than *longest_s*."""

    def __init__(self, first_s: float, longest_s: float) -> None:
        self._first_s = first_s
        self._longest_s = longest_s
        self.tried = 0

    def next_s(self) -> float:
        """Seconds to wait now; counts one more failure."""
        pause = min(self._longest_s, self._first_s * 2.0 ** min(self.tried, 60))
        self.tried += 1
        return pause

    def reset(self) -> None:
        """It worked: begin with the first pause again."""
        self.tried = 0
