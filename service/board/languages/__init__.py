"""The board in other languages than English."""
