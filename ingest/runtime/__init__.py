"""The process: its loop, its file, its threads, its settings."""
