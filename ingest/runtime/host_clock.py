"""The worker's own clock: readings must not be lost because somebody, or a fault, has set the machine's clock.

It runs on the machine's steady clock, which nobody can set, from where the wall clock once was; a restart on the same
boot goes on with it. If the wall clock is set, the readings decide which of the two is right: devices have clocks of
their own. Without a word from them the wall clock is believed after ten minutes.
"""

from __future__ import annotations

from collections.abc import Callable

STEP_S = 1.0
"""Less than this is the ordinary work of a time server, which is followed at once, [s]."""
FITS_S = 60.0
"""A reading taken at most so long from its arrival fits a clock, [s]."""
BELIEVED_S = 600.0
"""A wall clock that stays where it was set and that no reading contradicts is believed after this, [s]."""
VOTES = 20
"""So many more readings that fit the wall clock alone decide for it, at once if it was set ahead."""
SET_BACK_S = 60.0
"""One that was set back must stay there so long first: a backlog, which is late, may fit it by chance, [s]."""


class HostClock:
    """Seconds since 1970 UTC as the worker believes them.

    Parameters
    ----------
    wall : callable
        The machine's wall clock, seconds since 1970 UTC, [s].
    steady : callable
        A clock that runs evenly and that nobody sets, [s].
    offset_s : float or None
        What an earlier worker on the same boot added to the steady clock; None to begin with the wall clock, [s].
    """

    def __init__(
        self, wall: Callable[[], float], steady: Callable[[], float], offset_s: float | None = None
    ) -> None:
        self.wall, self.steady = wall, steady
        self.offset_s = wall() - steady() if offset_s is None else offset_s
        self.step_s = 0.0
        self._set_s, self._since_s, self._votes = 0.0, 0.0, 0
        self.look()

    def __call__(self) -> float:
        """Return the time, [s]."""
        return self.steady() + self.offset_s

    @property
    def in_doubt(self) -> bool:
        """Whether the wall clock says something else."""
        return self.step_s != 0.0

    def look(self) -> None:
        """Look at the wall clock, every second or so."""
        now_s = self.steady()
        step_s = self.wall() - now_s - self.offset_s
        if abs(step_s) < STEP_S:
            self.offset_s += step_s
            self.step_s = 0.0
        elif abs(step_s - self.step_s) >= STEP_S:
            self.step_s, self._votes = step_s, 0
            self._set_s = self._since_s = now_s
        elif now_s - self._since_s >= BELIEVED_S:
            self._believe_wall()

    def arrival_s(self, stamp_s: float, own_s: float) -> float:
        """Judge by a reading while in doubt.

        Parameters
        ----------
        stamp_s : float
            When the reading was taken by its device, [s].
        own_s : float
            When it arrived by this clock, [s].

        Returns
        -------
        float
            When it arrived by the clock to believe for it: it cannot come from the future of both, [s].
        """
        wall_s = own_s + self.step_s
        fits_own, fits_wall = abs(stamp_s - own_s) <= FITS_S, abs(stamp_s - wall_s) <= FITS_S
        if fits_own:
            self._since_s = self.steady()
        if fits_own != fits_wall:
            self._votes += 1 if fits_wall else -1
        if self._votes >= VOTES and (self.step_s > 0.0 or self.steady() - self._set_s >= SET_BACK_S):
            self._believe_wall()
        return wall_s if stamp_s - own_s > FITS_S and wall_s > own_s else own_s

    def _believe_wall(self) -> None:
        self.offset_s += self.step_s
        self.step_s, self._votes = 0.0, 0
