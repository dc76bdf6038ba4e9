"""Labels, shipping descriptions and records on paper."""
