"""What a report needs and may not find."""


class PrinterMissing(RuntimeError):  # noqa: N818 - named for what is the matter
    """What turns the page into PDF is not there, or lacks a library of the system."""
