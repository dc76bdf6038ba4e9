"""PURE: a hookup from its first reading to its pairs, and all of them."""
