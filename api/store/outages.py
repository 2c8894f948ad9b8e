"""One line of log a minute for an outage that lasts, whoever asks meanwhile."""

import logging
import threading
import time
from collections.abc import Callable
from typing import Final

log = logging.getLogger(__name__)

TOLD_AGAIN_AFTER_S: Final = 60.0
MOST_SENTENCES: Final = 200
"""Different ones at a time; they are forgotten together beyond that."""


class OutageLog:
    """Writes each sentence at most once a minute, with how often it was left out since.

    An outage at 1,000 requests a second would otherwise fill the disk with its own log.
    `clock_s` gives seconds that only rise. For any number of threads.
    """

    def __init__(self, clock_s: Callable[[], float] = time.monotonic) -> None:
        self._clock_s = clock_s
        self._lock = threading.Lock()
        self._told: dict[str, tuple[float, int]] = {}

    def tell(self, sentence: str) -> None:
        """Write a sentence, unless it was written within the last minute."""
        now_s = self._clock_s()
        with self._lock:
            told_s, left_out = self._told.get(sentence, (-TOLD_AGAIN_AFTER_S, 0))
            if now_s - told_s < TOLD_AGAIN_AFTER_S:
                self._told[sentence] = told_s, left_out + 1
                return
            if len(self._told) >= MOST_SENTENCES:
                self._told.clear()
            self._told[sentence] = now_s, 0
        log.error("%s%s", sentence, f" ({left_out} more times since the last line)" if left_out else "")


outage_log: Final = OutageLog()
"""The one of this process."""
