"""What a command tells in one sentence, and ends with 2: a mistake in a file, a spec or a key, or a missing program."""


class Told(Exception):
    """Its message is the sentence: which, why, what to do."""
