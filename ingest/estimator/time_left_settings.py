"""Quantiles of the time left by what the filters say of it, fitted on simulated courses.

Each row gives the logarithm of one quantile of the time left plus a minute: the weights of 1, `log_s`, `spread`,
`hold` and `log_age` of `time_left.Outlook`. Fitted by `python -m tests.benchmarks.settling_time_left --fit`, from kinds
of courses and seeds that are not those of the table in `ingest/how-well.md`.
"""

Row = tuple[float, float, float, float, float]
Quantiles = tuple[Row, Row, Row]
"""Beginning of the range, middle, end."""

QUIET: Quantiles = (
    (2.126, 0.503, -0.319, 0.525, 0.012),
    (0.892, 0.698, -0.183, 0.624, 0.092),
    (-2.168, 0.770, 1.055, 0.962, 0.624),
)
"""The cylinder does not drift: the clamp is waited for (fitted on simulated courses) [-]."""
DRIFTING: Quantiles = (
    (-3.127, 1.164, 0.072, 0.0, 0.084),
    (2.283, 0.707, -0.591, 0.0, 0.018),
    (4.559, 0.449, 1.848, 0.0, 0.102),
)
"""The cylinder is waited for; nothing is held yet (fitted on simulated courses) [-]."""
