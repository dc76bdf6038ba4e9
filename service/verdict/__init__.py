"""What pressures and temperatures say about a cylinder's contents. Pure: numpy alone, no I/O, no clock.

The way of one verdict: `evidence` (residual and covariance) -> `hypotheses` (all curves, tabulated once)
-> `priors` -> `posterior` (one array computation) -> findings in words, limits and the next measurement.
"""
