"""Server-rendered pages with a live stream."""
