"""PURE: designations, saturation curves, mixtures, the state of a closed cylinder. No I/O, no clock."""
