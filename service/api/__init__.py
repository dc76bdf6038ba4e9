"""REST resources: decode, call one use case, encode."""
