"""The one error that a person starting the stack is meant to read."""


class StartRefused(Exception):
    """The stack cannot start or go on; the message is one clear sentence for the person at the keyboard."""
