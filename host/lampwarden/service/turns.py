"""How regularly each keeper turns, and how often its board did not answer."""

from dataclasses import dataclass, replace

STANDS_S = 10.0
"""A keeper that has not turned for this long stands, s: ten control periods. A turn in which the board does not answer
takes some two seconds; the board itself went dark after three."""


@dataclass(frozen=True, slots=True)
class Turns:
    """The turns of one keeper since the daemon began. Times are s of the keeper's own clock."""

    last_s: float
    """When the last turn ended, or when the keeper was started."""
    count: int = 0
    longest_gap_s: float = 0.0
    """Longest time between the ends of two turns."""
    unanswered: int = 0
    """Turns in which the board did not answer."""

    def after(self, now_s: float, *, answered: bool) -> "Turns":
        """With one more turn, which ends now."""
        gap_s = now_s - self.last_s if self.count else 0.0
        return replace(
            self,
            last_s=now_s,
            count=self.count + 1,
            longest_gap_s=max(self.longest_gap_s, gap_s),
            unanswered=self.unanswered + (not answered),
        )

    def gap_s(self, now_s: float) -> float:
        """Time since the last turn, s."""
        return max(0.0, now_s - self.last_s)

    def stands(self, now_s: float) -> bool:
        """True if the keeper has not turned for too long."""
        return self.gap_s(now_s) > STANDS_S
