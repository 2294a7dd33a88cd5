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

    def use(self, who: str) -> bool:
        """Count one; False when there was none left."""
        span = int(time.time() // self.seconds)
        key = f"limit:{self.name}:{span}:{hashlib.sha256(who.encode()).hexdigest()}"
        used = cache.get(key, 0)
        if used >= self.most:
            return False
        cache.set(key, used + 1, self.seconds)
        return True
