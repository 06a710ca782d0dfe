"""Lists of words, written as texts."""


def words(*texts: str) -> frozenset[str]:
    """Return the words of some texts."""
    return frozenset(word for text in texts for word in text.split())
