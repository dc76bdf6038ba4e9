"""PURE: what each page shows, made of stored facts; no request, no clock, no database."""
