"""How long a guesser waits, and who is not made to wait for what others guess.

Failed tries are counted by what they were made from. A browser in which a person has signed in before
has a count of its own, which nobody else can raise. All others share one count for each account and
address, one for the account and one for the address. So whoever guesses slows down themself, and those
who come from a strange browser, but never the person at their own one.

References
----------
OWASP, "Slow Down Online Guessing Attacks with Device Cookies". The numbers are our own; ASVS 4.0.3,
2.2.1 asks for no more than 100 failed tries in an hour on one account.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta


@dataclass(frozen=True)
class Limit:
    """So many failures are free; then the wait doubles from `first` to `most`; in the end all is forgotten."""

    free: int
    first: timedelta
    most: timedelta
    forgotten_after: timedelta

    def wait_after(self, failures: int) -> timedelta:
        """Return how long after the last of so many failures nobody is heard."""
        beyond = failures - self.free
        if beyond < 0:
            return timedelta(0)
        # Doubled more often than this, any wait is the longest one.
        return min(self.first * (1 << min(beyond, 20)), self.most)


DEVICE, PAIR, ACCOUNT, ADDRESS = "device", "pair", "account", "address"
LIMITS: Mapping[str, Limit] = {
    DEVICE: Limit(5, timedelta(seconds=15), timedelta(minutes=15), timedelta(hours=12)),
    PAIR: Limit(5, timedelta(seconds=15), timedelta(minutes=15), timedelta(hours=12)),
    ACCOUNT: Limit(20, timedelta(seconds=15), timedelta(minutes=5), timedelta(hours=6)),
    # A whole hospital may stand behind one address.
    ADDRESS: Limit(40, timedelta(seconds=15), timedelta(minutes=5), timedelta(hours=1)),
}
FORGOTTEN = max(limit.forgotten_after for limit in LIMITS.values())


def same_account(name: str) -> str:
    """Return what every spelling of a user name comes to that the database takes for the same.

    Capitals of both kinds, since PostgreSQL compares by upper case: the dotless i is an I there.
    """
    return name.strip().upper().casefold()


def failures_now(kind: str, failures: int, since_last: timedelta) -> int:
    """Return how many failures still count, so long after the last."""
    return 0 if since_last >= LIMITS[kind].forgotten_after else failures


def still_to_wait(kind: str, failures: int, since_last: timedelta) -> timedelta:
    """Return how much longer nobody is heard, after so many failures; zero when at once."""
    counted = failures_now(kind, failures, since_last)
    return max(LIMITS[kind].wait_after(counted) - since_last, timedelta(0))


def in_words(wait: timedelta) -> str:
    """Say a wait as a person would, rounded up."""
    seconds = -(-wait // timedelta(seconds=1))
    if seconds < 60:
        return f"{seconds} second{'s' if seconds != 1 else ''}"
    minutes = -(-seconds // 60)
    return f"{minutes} minute{'s' if minutes != 1 else ''}"
