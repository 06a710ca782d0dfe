"""Words in lists, and words that are fit for print."""


def words(*texts: str) -> frozenset[str]:
    """Return the words of some texts."""
    return frozenset(word for text in texts for word in text.split())


def printable(text: str) -> str:
    """Return a text in which nothing can move a terminal's cursor or colours; tabs stay."""
    return "".join(c if c.isprintable() or c == "\t" else "?" for c in text)
