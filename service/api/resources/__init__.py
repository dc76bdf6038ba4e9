"""One module a noun: decode, call one use case, encode."""
