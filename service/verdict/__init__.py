"""PURE: from equilibrium pairs to a posterior over everything a cylinder may hold. No I/O, no clock."""
