"""A device's clock: one that runs ahead, runs behind or is set back must not mix up the order of events.

Only arrival tells a clock's error, and a backlog arrives late without any. So a stamp in the future is taken back to
its arrival; and a lag counts as the clock's only when readings arrive at the pace of their stamps, which a backlog,
delivered in seconds, never does.
"""

from __future__ import annotations

from dataclasses import dataclass

BLOCK = 30
"""Readings after which an earlier lead is forgotten if it was not seen again."""
LAG_S = 120.0
"""A lag below this is delivery (a choice), [s]."""
PACED_RUN, PACED_SPAN_S = 6, 60.0
"""So many readings over so long must arrive at the pace of their stamps (a choice) [-], [s]."""
PACE_SHARE, PACE_S = 0.2, 5.0
"""By how much arrivals may differ from stamps, as a share and on top of that (a choice) [-], [s]."""


@dataclass(slots=True)
class DeviceClock:
    """One sensor's clock against the worker's; `shift_s` [s] is added to its stamps."""

    shift_s: float = 0.0
    block: int = 0
    block_lead_s: float = -1e18
    run: int = 0
    run_stamp_s: float = 0.0
    run_arrival_s: float = 0.0
    run_lag_s: float = 1e18

    def event_time(self, stamp_s: float, arrival_s: float) -> float:
        """Return when a reading was taken by the worker's clock, [s]."""
        lead_s = stamp_s - arrival_s
        self.block += 1
        if lead_s > self.block_lead_s:
            self.block_lead_s = lead_s
        if lead_s + self.shift_s > 0.0 or self.block >= BLOCK:
            self._follow_lead(lead_s)
        if -lead_s - self.shift_s < LAG_S:
            self.run = 0
        else:
            self._follow_lag(stamp_s, arrival_s, -lead_s)
        return stamp_s + self.shift_s

    def _follow_lead(self, lead_s: float) -> None:
        if lead_s + self.shift_s > 0.0:
            self.shift_s = -lead_s
        if self.block >= BLOCK:
            if self.shift_s < 0.0:
                self.shift_s = -max(0.0, self.block_lead_s)
            self.block, self.block_lead_s = 0, -1e18

    def _follow_lag(self, stamp_s: float, arrival_s: float, lag_s: float) -> None:
        stamps, arrivals = stamp_s - self.run_stamp_s, arrival_s - self.run_arrival_s
        paced = stamps > 0.0 and abs(arrivals - stamps) <= PACE_SHARE * arrivals + PACE_S
        if self.run == 0 or not paced:
            self.run, self.run_stamp_s, self.run_arrival_s, self.run_lag_s = 1, stamp_s, arrival_s, lag_s
            return
        self.run += 1
        self.run_lag_s = min(self.run_lag_s, lag_s)
        if self.run >= PACED_RUN and arrivals >= PACED_SPAN_S:
            self.shift_s = self.run_lag_s
            self.run = 0
