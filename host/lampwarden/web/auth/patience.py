"""How long wrong passwords make wait: each address for itself, and all together. Pure: the time is given."""

import ipaddress
from dataclasses import dataclass

ADDRESSES_MAX = 1000
"""So many addresses are remembered; of more the ones that failed longest ago are forgotten."""
FORGET_S = 3600.0
"""After so long without a wrong password all is forgotten, s."""


@dataclass(slots=True)
class _Tries:
    free: int
    """So many wrong passwords cost nothing."""
    wait_s_max: float
    failed: int = 0
    last_s: float = 0.0

    def left_s(self, now_s: float) -> float:
        """How long until the next try, s."""
        if now_s - self.last_s >= FORGET_S:
            self.failed = 0
        over = self.failed - self.free
        return 0.0 if over < 0 else max(0.0, self.last_s + min(2.0 ** (over + 1), self.wait_s_max) - now_s)


class Patience:
    """From the third wrong password an address waits 2 s, 4 s, ... up to 5 min; all together up to 30 s from the 30th.

    The second wait is short: nobody shall keep others from signing in by failing often.
    """

    def __init__(self) -> None:
        self._all = _Tries(free=30, wait_s_max=30.0)
        self._by_address: dict[str, _Tries] = {}

    def wait_s(self, address: str, now_s: float) -> float:
        """0: try now, and the try counts as wrong until `right` is said. Otherwise how long to wait, s."""
        key = _key(address)
        tries = self._by_address.get(key) or _Tries(free=3, wait_s_max=300.0)
        left_s = max(tries.left_s(now_s), self._all.left_s(now_s))
        if left_s > 0:
            return left_s
        for each in (tries, self._all):
            each.failed, each.last_s = each.failed + 1, now_s
        self._by_address.pop(key, None)
        self._by_address[key] = tries  # the latest comes last
        if len(self._by_address) > ADDRESSES_MAX:
            del self._by_address[next(iter(self._by_address))]
        return 0.0

    def right(self, address: str) -> None:
        """The try was right."""
        self._by_address.pop(_key(address), None)
        self._all.failed = max(0, self._all.failed - 1)


def _key(address: str) -> str:
    """One household has a whole IPv6 network of 64 bits."""
    try:
        ip = ipaddress.ip_address(address)
    except ValueError:
        return address
    return str(ipaddress.ip_network((ip, 64), strict=False)) if ip.version == 6 else str(ip)
