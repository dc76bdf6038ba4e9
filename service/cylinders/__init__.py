"""PURE: what a cylinder may hold, how much more, until when; alarms. Time is an argument."""
