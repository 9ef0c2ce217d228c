"""An error that already is the sentence to tell."""


class Told(Exception):
    """Bad input found by a verb; the message says what and what to do."""
