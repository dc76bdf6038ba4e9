"""PURE: what two sensors say of one cylinder, bin by bin."""
