"""The handbook: Markdown pages, readable where they lie and served at ``/help``."""
