"""How often one who is not signed in may do something, counted in the cache that all processes share."""

from __future__ import annotations

import hashlib
import time
from dataclasses import dataclass

from django.core.cache import cache


@dataclass(frozen=True, slots=True)
class Limit:
    """At most so often in each span of time. Two at the very same moment may count as one."""

    name: str
    most: int
    seconds: int

    def used_up(self, who: str) -> bool:
        return cache.get(self._key(who), 0) >= self.most

    def use(self, who: str) -> bool:
        """Count one; False when there was none left."""
        key = self._key(who)
        used = cache.get(key, 0)
        if used >= self.most:
            return False
        cache.set(key, used + 1, self.seconds)
        return True

    def _key(self, who: str) -> str:
        span = int(time.time() // self.seconds)
        return f"limit:{self.name}:{span}:{hashlib.sha256(who.encode()).hexdigest()}"
